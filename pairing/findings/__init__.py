"""What is said about numbers, scans and pieces: codes with weights and parameters, and apart
from them the English sentences.

To add a finding: its code in `codes`, its parameters in `parameters`, its sentences in
`wording`; the kiosk's languages have theirs in `kiosk/texts`.
"""

from __future__ import annotations

from pairing.findings.codes import Code, Weight
from pairing.findings.finding import Finding
from pairing.findings.parameters import COPYING, PARAMETERS, REFUSALS, Parameter, refused
from pairing.findings.wording import Sentences

__all__ = [
    "COPYING",
    "PARAMETERS",
    "REFUSALS",
    "Code",
    "Finding",
    "Parameter",
    "Sentences",
    "Weight",
    "refused",
]
