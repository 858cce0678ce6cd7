"""Measurements, run by hand; nothing here is part of the tests."""
