"""HEIC photos, which need the extra `heic`.

The decoder is pillow-heif, an extra since its wheels bundle libheif and libde265 (LGPL-3.0)
and x265 (GPL-2.0) beside this program's Apache-2.0. Native code decodes what anybody sends, so
the libraries' own versions are looked at too: a system's build may be older than the wheel.
"""

from __future__ import annotations

import re
from functools import cache

EXTRA = "pip install --upgrade 'counterfoil[heic]'"
"""Right whether the library is absent, too old, or cannot be loaded."""

LEAST_VERSIONS = {"libheif": (1, 23, 4), "libde265": (1, 1, 3)}
"""Versions before these run code from a picture (their projects' public advisories of August
and September 2026). Bundled in pillow-heif 1.8.0, not in 1.7.0 (looked up in both wheels)."""

_BRANDS = frozenset((b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"hevm", b"hevs"))
"""ISO/IEC 23008-12, annex B: pictures coded with HEVC."""


def is_heic(head: bytes) -> bool:
    """Whether a file begins as a HEIC photo does. head: its first 64 bytes or more. (The box
    `ftyp` with its brands: ISO/IEC 14496-12, section 4.3.)"""
    size = int.from_bytes(head[:4], "big")
    brands = head[8:12], *(head[at : at + 4] for at in range(16, min(size, len(head)), 4))
    return head[4:8] == b"ftyp" and any(brand in _BRANDS for brand in brands)


@cache
def trouble() -> str:
    """Why HEIC photos cannot be opened here, a sentence; empty where they can. The first call
    makes them known to Pillow."""
    try:
        import pillow_heif  # noqa: PLC0415 - an extra
    except ModuleNotFoundError:
        return "HEIC photos need a library that is not installed"
    except ImportError as error:
        return f"The library for HEIC photos is installed and cannot be loaded ({error})"
    found = pillow_heif.libheif_info()
    texts = {"libheif": str(found.get("libheif", "")), **found.get("decoders", {})}
    for name, least in LEAST_VERSIONS.items():
        version = version_in(texts[name]) if name in texts else least
        if version < least:
            shown = ".".join(map(str, version))
            return f"HEIC photos are not opened with {name} {shown}, which has known holes"
    pillow_heif.register_heif_opener()
    return ""


def version_in(text: str) -> tuple[int, ...]:
    """The first version number in a text, part by part; (0,) where there is none."""
    found = re.search(r"\d+(?:\.\d+)+", text)
    return tuple(map(int, found.group().split("."))) if found else (0,)
