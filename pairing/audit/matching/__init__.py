"""Which card belongs to which label, where photos come in no order."""
