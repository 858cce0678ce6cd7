"""Pixels: which symbols a photo holds, where they stand and how well they are printed."""
