"""From the keystrokes of a wedge scanner to scans.

`parse_line` takes one line as it was typed; everything odd about it is repaired where the
repair is certain, said as a finding, or asked as a question. `parse_keyed` takes what a
person typed. Neither raises. Which of the two keys are (scanner or person) is not known here: the
pace says it, in `cli/counterfoil/keyboard.py` and `kiosk/page/capture.js`.
"""

from __future__ import annotations

from pairing.wedge.keyed import parse_keyed
from pairing.wedge.lines import parse_line
from pairing.wedge.setup import WedgeSetup

__all__ = ["WedgeSetup", "parse_keyed", "parse_line"]
