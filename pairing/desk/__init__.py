"""Work at the counter: scans and keyed entries put together into pieces."""
