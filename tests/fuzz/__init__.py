"""Random and mutated inputs for every parser and door: none may end in a traceback."""
