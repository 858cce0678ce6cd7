"""What is left behind of a finished run: report, tables, evidence sheets."""
