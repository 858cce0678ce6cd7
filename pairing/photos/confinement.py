"""What a process that reads photos may still do: read those that it is handed (`handed`) and this
program, and answer.

A decoder that is made to run a stranger's code finds no network, no writing, no new process and
no other files. Files are Landlock's (kernel documentation, "Landlock: unprivileged access
control"; syscalls 444 to 446), the rest is a seccomp filter's ("Seccomp BPF"). Both hold for the
rest of the process's life. Neither library on PyPI serves: `landlock` 1.0.0.dev5 is unfinished,
`pyseccomp` 0.1.2 needs a system library that its wheel lacks (looked at on 2026-11-27).

What it does not hide: that a file exists, its size and times (Landlock does not cover them).
"""

from __future__ import annotations

import ctypes
import errno
import os
import platform
import struct
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from pairing.photos import heic
from pairing.photos.barcodes.engines import load_engines
from pairing.photos.forms import folder as forms_folder

_CREATE_RULESET, _ADD_RULE, _RESTRICT_SELF = 444, 445, 446
_VERSION_FLAG = 1
_PATH_BENEATH = 1
# include/uapi/linux/landlock.h: rights by bit. A file's: execute, write, read; read_dir is 3;
# 4 to 12 remove and make entries; refer (13, ABI 2), truncate (14, ABI 3), ioctl_dev (15, ABI 5).
_READ_FILE, _READ_DIR = 1 << 2, 1 << 3
_RIGHTS_BY_ABI = ((5, 16), (3, 15), (2, 14), (1, 13))
# Network (ABI 4): bind_tcp, connect_tcp. Scopes (ABI 6): abstract sockets, signals.
_NET_RIGHTS, _SCOPES = 0b11, 0b11

_PR_SET_NO_NEW_PRIVS, _PR_SET_SECCOMP, _SECCOMP_MODE_FILTER = 38, 22, 2
_CLONE_THREAD = 0x0001_0000

# AUDIT_ARCH_* (include/uapi/linux/audit.h), clone, and the calls that are refused
# (arch/x86/entry/syscalls/syscall_64.tbl; include/uapi/asm-generic/unistd.h).
_SYSCALLS = {
    "x86_64": (0xC000_003E, 56, (
        41, 42, 49, 50, 57, 58, 59, 62, 101, 165, 248, 249, 250, 272, 298, 304, 308, 310, 311,
        321, 322, 323, 425,
    )),
    "aarch64": (0xC000_00B7, 220, (
        198, 203, 200, 201, 221, 129, 117, 40, 217, 218, 219, 97, 241, 265, 268, 270, 271, 280,
        281, 282, 425,
    )),
}  # fmt: skip
"""socket, connect, bind, listen, fork, vfork, execve, kill, ptrace, mount, add_key, request_key,
keyctl, unshare, perf_event_open, open_by_handle_at, setns, process_vm_readv and _writev, bpf,
execveat, userfaultfd, io_uring_setup."""
_CLONE3 = 435
_X32_BIT = 0x4000_0000

_SYSTEM = (
    "/lib", "/lib64", "/usr/lib", "/usr/lib64", "/usr/share", "/usr/local/lib", "/etc/ld.so.cache",
    "/etc/localtime", "/dev/null", "/dev/urandom", "/proc/self", "/proc/cpuinfo", "/proc/meminfo",
    "/proc/stat", "/sys/devices/system", "/sys/fs/cgroup",
)  # fmt: skip
"""What libraries read: themselves, the time zone, how many processors and how much memory."""


def trouble() -> str:
    """Why photos are opened in a process that is not confined, a sentence; empty where it is."""
    if not sys.platform.startswith("linux"):
        return "The process that opens photos is not confined on this system"
    if platform.machine() not in _SYSCALLS:
        return "The process that opens photos is not confined on this kind of processor"
    if _abi() < 1:
        return "The process that opens photos is not confined: the kernel has no Landlock"
    return ""


def confine() -> None:
    """From here on this process opens this program's files alone, writes nothing, reaches no
    network and starts no process. Where the system cannot confine, nothing happens
    (`trouble`)."""
    if trouble():
        return
    # These ask other programs where libraries lie, or load some: not possible afterward.
    load_engines()
    heic.trouble()
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0:
        _close_files(libc)
        _close_calls(libc)


def _close_files(libc: ctypes.CDLL) -> None:
    abi = _abi()
    bits = next(bits for least, bits in _RIGHTS_BY_ABI if abi >= least)
    rights = (1 << bits) - 1
    net = _NET_RIGHTS if abi >= 4 else 0
    scopes = _SCOPES if abi >= 6 else 0
    # struct landlock_ruleset_attr; a kernel takes as much of it as it knows.
    attributes = struct.pack("=QQQ", rights, net, scopes)[
        : 24 if abi >= 6 else 16 if abi >= 4 else 8
    ]
    rules = libc.syscall(_CREATE_RULESET, attributes, ctypes.c_size_t(len(attributes)), 0)
    if rules < 0:
        return
    try:
        for path in _own_places():
            with suppress(OSError):
                _allow(libc, rules, path)
        libc.syscall(_RESTRICT_SELF, rules, 0)
    finally:
        os.close(rules)


def _allow(libc: ctypes.CDLL, rules: int, path: Path) -> None:
    handle = os.open(path, os.O_PATH | os.O_CLOEXEC)
    try:
        rights = _READ_FILE | (_READ_DIR if path.is_dir() else 0)
        beneath = struct.pack("=Qi", rights, handle)  # struct landlock_path_beneath_attr, packed
        libc.syscall(_ADD_RULE, rules, _PATH_BENEATH, beneath, 0)
    finally:
        os.close(handle)


def _own_places() -> Iterator[Path]:
    """This program, what it is made of, and the office's forms."""
    yield from map(Path, _SYSTEM)
    yield from (Path(one) for one in {sys.prefix, sys.base_prefix, sys.exec_prefix})
    yield from (Path(one) for one in sys.path if one and Path(one).name != "")
    yield Path(__file__).resolve().parents[2]
    yield forms_folder.place()


def _close_calls(libc: ctypes.CDLL) -> None:
    code = filter_for(platform.machine())
    buffer = ctypes.create_string_buffer(code, len(code))
    program = struct.pack("@HP", len(code) // 8, ctypes.addressof(buffer))  # struct sock_fprog
    libc.prctl(_PR_SET_SECCOMP, _SECCOMP_MODE_FILTER, program, 0, 0)


def filter_for(machine: str) -> bytes:
    """The filter (classic BPF, eight bytes an instruction) for `platform.machine()`."""
    architecture, clone, refused = _SYSCALLS[machine]
    load, jump_equal, jump_set, answer = 0x20, 0x15, 0x45, 0x06
    allow, refuse, unknown = 0x7FFF_0000, 0x0005_0000 | errno.EPERM, 0x0005_0000 | errno.ENOSYS
    code = [
        (load, 0, 0, 4),  # seccomp_data.arch
        (jump_equal, 1, 0, architecture),
        (answer, 0, 0, refuse),
        (load, 0, 0, 0),  # seccomp_data.nr
        (jump_set, 0, 1, _X32_BIT),
        (answer, 0, 0, refuse),
        # A C library that finds no clone3 takes clone, whose flags can be seen here.
        (jump_equal, 0, 1, _CLONE3),
        (answer, 0, 0, unknown),
    ]
    for number in refused:
        code += [(jump_equal, 0, 1, number), (answer, 0, 0, refuse)]
    code += [
        (jump_equal, 0, 3, clone),
        (load, 0, 0, 16),  # seccomp_data.args[0], its lower half: clone's flags
        (jump_set, 1, 0, _CLONE_THREAD),
        (answer, 0, 0, refuse),
        (answer, 0, 0, allow),
    ]
    return b"".join(struct.pack("=HBBI", *one) for one in code)


def _abi() -> int:
    """The kernel's version of Landlock; 0 or less for none."""
    try:
        libc = ctypes.CDLL(None, use_errno=True)
        return int(libc.syscall(_CREATE_RULESET, None, ctypes.c_size_t(0), _VERSION_FLAG))
    except (OSError, AttributeError, TypeError):
        return 0
