"""Pixels: which symbols a photo shows, where they are and how well they are printed."""
