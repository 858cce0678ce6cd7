"""Counterfoil's library: does the return-receipt card repeat the label's number?

Rings, from the inside out; each imports only itself and what lies further in:

0. `errors`, `model`
1. `numbers`, `wedge`, `compare`, `judge` (pure)
2. `photos` (pixels and disk)
3. `desk`, `audit` (use cases)
4. `demo` and, outside this package, the command line
"""

__version__ = "0.1.0"
