"""What check digits cannot see: exact shares, as data."""

from pairing.blindspots.table import BlindSpot, BlindspotTable, blindspots

__all__ = ["BlindSpot", "BlindspotTable", "blindspots"]
