"""What bounds a process that reads photos: its parent's life, processor time, memory."""

from __future__ import annotations

import math
import multiprocessing
import os
from pathlib import Path


def end_with_parent() -> None:
    """Die of SIGIO when the parent is gone, also in the middle of a decoder's loop.

    The parent holds the other end of a pipe, which closes with it; the kernel then sends the
    signal (fcntl(2), O_ASYNC), whose default is to end the process. Linux's death signal
    would come when the parent's thread ends, and a kiosk's threads come and go. A thread that
    waits would need Python's lock, which a decoder may hold.
    """
    parent = multiprocessing.parent_process()
    try:
        import fcntl  # noqa: PLC0415 - not on Windows
    except ImportError:
        return
    if parent is None:
        return
    fcntl.fcntl(parent.sentinel, fcntl.F_SETOWN, os.getpid())
    flags = fcntl.fcntl(parent.sentinel, fcntl.F_GETFL)
    fcntl.fcntl(parent.sentinel, fcntl.F_SETFL, flags | fcntl.FASYNC)
    if not parent.is_alive():
        os._exit(0)  # it ended before the kernel was asked


def limit_cpu(timeout_s: float) -> None:
    """Let the kernel end this process where one photo takes more CPU than it may take time:
    the parent, which waits for no longer, may be stopped or slow."""
    try:
        import resource  # noqa: PLC0415 - not on Windows
    except ImportError:
        return
    used = resource.getrusage(resource.RUSAGE_SELF)
    soft = math.ceil(used.ru_utime + used.ru_stime + timeout_s) + 1
    _, hard = resource.getrlimit(resource.RLIMIT_CPU)
    if hard != resource.RLIM_INFINITY:
        soft = min(soft, hard)
    resource.setrlimit(resource.RLIMIT_CPU, (soft, hard))


def limit_memory(ceiling_bytes: int) -> None:
    """Bound the address space, where the system can (not on Windows or macOS)."""
    try:
        import resource  # noqa: PLC0415
    except ImportError:
        return
    soft = ceiling_bytes + _address_space_bytes()
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    if hard != resource.RLIM_INFINITY:
        soft = min(soft, hard)
    try:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
    except (ValueError, OSError):
        return


def _address_space_bytes() -> int:
    """What this process maps already: libraries and thread stacks, most of it never touched."""
    try:
        fields = Path("/proc/self/statm").read_text(encoding="ascii").split()
    except OSError:
        return 0
    return int(fields[0]) * 4096
