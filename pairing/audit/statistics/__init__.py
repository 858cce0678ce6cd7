"""What a checked sample or lot is worth: samples drawn, bounds, the conclusion."""
