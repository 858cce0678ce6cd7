"""The counting that `pairing/blindspots/figures.py` was made with, and its test.

`python -m tests.blindspots.engine` writes that file again.
"""
