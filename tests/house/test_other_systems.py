"""No module of the project needs what Windows or macOS lack.

Here those modules are hidden from the project's own imports, and functions of `os` and `signal`
that are Linux's alone are taken away. The lists are those of Python's library reference
("Availability" of each module and function). That the program then runs on these systems is not
shown by this: it was tried on Linux only.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent

_SCRIPT = """
import builtins, importlib, os, pkgutil, signal, sys

LACKING = {"termios", "tty", "pty", "fcntl", "resource", "pwd", "grp", "posix", "syslog", "crypt"}
real = builtins.__import__

def without(name, globals=None, locals=None, fromlist=(), level=0):
    mine = str((globals or {}).get("__name__", "")).partition(".")[0] in ("pairing", "counterfoil")
    if mine and level == 0 and name.partition(".")[0] in LACKING:
        raise ImportError(f"there is no {name} here")
    return real(name, globals, locals, fromlist, level)

builtins.__import__ = without
for name in ("sched_getaffinity", "setsid", "fchown", "getloadavg"):
    vars(os).pop(name, None)
for name in ("pthread_sigmask", "sigtimedwait", "SIGHUP", "SIGKILL"):
    vars(signal).pop(name, None)

import counterfoil, pairing
count = 0
for package in (pairing, counterfoil):
    for found in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        if found.name.startswith("pairing.training") or found.name.endswith("__main__"):
            continue
        if found.name.endswith(("env",)) or ".migrations." in found.name:
            continue  # Alembic runs these
        importlib.import_module(found.name)
        count += 1
assert count > 200, count
sys.argv = ["counterfoil", *sys.argv[1:]]
from counterfoil.main import main
main()
"""


def test_a_counter_runs_without_what_other_systems_lack() -> None:
    lines = ["9374890100000003985039", "9590940258780038231151", "/9374890100000003985039"]
    done = subprocess.run(
        [sys.executable, "-c", _SCRIPT, "counter", "--practice"],
        input="\n".join(lines),
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert "Seal. Label and box agree" in done.stdout
    assert "nothing of it was kept" in done.stderr
