"""Every symbol of a frame: found, laid flat, read, placed and measured."""
