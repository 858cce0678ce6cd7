"""Mutation testing by hand: `python -m tests.mutation --help`."""
