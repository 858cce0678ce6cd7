"""What a family's check digit cannot see: exact shares for each copying error."""

from pairing.blindspots.table import VERHOEFF_TOTAL, BlindSpot, BlindspotTable, blindspots

__all__ = ["VERHOEFF_TOTAL", "BlindSpot", "BlindspotTable", "blindspots"]
