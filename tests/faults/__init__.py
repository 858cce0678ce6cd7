"""Faults made on purpose: what was acknowledged is there afterward, and what was not is no half.
Run by hand, `python -m tests.faults --help`; the suite runs a few of each."""
