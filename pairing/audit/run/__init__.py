"""A lot of photographed pieces: read once, kept line by line, judged, resumed."""
