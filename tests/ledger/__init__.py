"""The ledger: what it records, what it refuses, what it notices."""
