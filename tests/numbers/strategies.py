"""Random valid numbers. Check digits come from python-stdnum and, for S10, from the rule as
UPU S10-12 words it, so that the tests do not ask the project what is right."""

from __future__ import annotations

from hypothesis import strategies as st
from stdnum import ean


def digits(count: int) -> st.SearchStrategy[str]:
    return st.text("0123456789", min_size=count, max_size=count)


def with_mod10(data: str) -> str:
    return data + ean.calc_check_digit(data)


def s10_of(letters: str, serial: str, country: str) -> str:
    rest = 11 - sum(w * int(d) for w, d in zip((8, 6, 4, 2, 3, 5, 9, 7), serial, strict=True)) % 11
    return f"{letters}{serial}{ {10: 0, 11: 5}.get(rest, rest) }{country}".replace(" ", "")


labels22 = digits(15).map(lambda tail: with_mod10("958907" + tail))
cards22 = digits(15).map(lambda tail: with_mod10("959094" + tail))
packages22 = st.builds(
    lambda channel, tail: with_mod10(channel + tail),
    st.sampled_from(("92", "93", "94")),
    digits(19),
)
packages26 = st.builds(
    lambda channel, tail: with_mod10(channel + tail),
    st.sampled_from(("92", "93", "94", "95")),
    digits(23),
)
labels20 = st.builds(
    lambda service, tail: with_mod10(service + tail),
    st.sampled_from(("70", "71", "73", "77", "81")),
    digits(17),
)
s10s = st.builds(
    s10_of,
    st.sampled_from(("RR", "RB", "VV", "EE", "LX", "CP")),
    digits(8),
    st.sampled_from(("CA", "GB", "IE", "US")),
)
sscs = digits(17).map(with_mod10)
mod10_numbers = labels22 | cards22 | packages22 | packages26 | labels20 | sscs
articles = labels22 | packages22 | packages26 | labels20 | s10s
