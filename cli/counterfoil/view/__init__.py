"""How results look on a terminal or in a pipe; `style` is the one table of their looks."""
