"""The command line of Counterfoil: it parses, asks the library, and shows."""
