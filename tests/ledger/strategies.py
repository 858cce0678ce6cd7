"""Entries of every shape, for hypothesis."""

from __future__ import annotations

from hypothesis import strategies as st

from pairing.findings import Weight
from pairing.ledger import Entry, Kind, Observed, Via
from pairing.ledger.entries import RecordedFinding
from pairing.model import How, Side, Verdict
from tests.ledger.making import card, label

texts = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=30)
"""What a cleaned text may be: anything that UTF-8 and both databases hold."""

numbers = st.sampled_from([label(1), label(2), card(1), "EE876543216CA"]) | texts.filter(bool)

hashes = st.binary(min_size=32, max_size=32).map(bytes.hex)

observations = st.builds(
    Observed,
    side=st.sampled_from(Side),
    how=st.sampled_from(How),
    via=st.sampled_from(Via),
    text=texts,
    given=texts,
    photo_sha256=st.just("") | hashes,
)

findings = st.builds(
    RecordedFinding,
    code=st.sampled_from(["label-taken", "box-keyed", "of-a-later-version"]),
    message=texts,
    positions=st.lists(st.integers(1, 34), max_size=3).map(tuple),
    action=texts,
    weight=st.sampled_from(Weight),
)

entries = st.builds(
    Entry,
    sequence=st.integers(1, 2**53 - 1),
    at=st.datetimes().map(lambda at: f"{at.isoformat(timespec='microseconds')}Z"),
    kind=st.sampled_from(Kind),
    desk=texts,
    operator=texts,
    previous=hashes,
    article=st.none() | numbers,
    card=st.none() | numbers,
    written=st.none() | numbers,
    verdict=st.none() | st.sampled_from(Verdict),
    readings=st.lists(observations, max_size=3).map(tuple),
    findings=st.lists(findings, max_size=2).map(tuple),
    refers=st.none() | st.integers(1, 2**53 - 1),
    remark=texts,
    key=texts,
    commitment=st.just("") | hashes,
    version=st.just(1),
)
