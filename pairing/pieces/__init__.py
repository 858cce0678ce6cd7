"""Photos to pieces, readings, verdicts and drawings: one path for every command."""
