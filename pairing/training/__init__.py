"""The recipe of the network that reads the box: lines, training, export, calibration.

Needs the extra `[train]` (PyTorch); nothing else in Counterfoil imports this package. Run
`python -m pairing.training --help`.
"""
