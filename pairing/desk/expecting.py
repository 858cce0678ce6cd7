"""Records the pairs that another system printed as expected, and finds what became of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from pairing.desk.commands import naming
from pairing.desk.lookup import EXPECTED_FOR
from pairing.desk.pairlist import ListedPair, PairList, RefusedRow
from pairing.ledger import Draft, Entry, Kind, Ledger, Outcome, Piece, State

_OF_CARDS = frozenset(("expected-other-card", "card-expected-elsewhere"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What loading a list did. added, known: how many pairs were new, and how many were expected
    already. refused: rows that contradict a list that was loaded before."""

    added: int
    known: int
    refused: tuple[RefusedRow, ...]


def load(
    ledger: Ledger,
    pairs: PairList,
    *,
    desk: str,
    operator: str,
    now: datetime,
) -> Loaded:
    """Record the pairs as expected, except those that are expected already.

    A load that was interrupted can be repeated: each pair has its own key. Raises
    LedgerUnusable.
    """
    standing = expectations(ledger, since=now - EXPECTED_FOR)
    by_article = {one.article: one for one in standing}
    by_card = {one.card: one for one in standing if one.card}
    added = known = 0
    refused = []
    for pair in pairs.pairs:
        there = by_article.get(pair.article)
        if there is not None and there.card == pair.card:
            known += 1
            _name(ledger, pair, there, desk=desk, operator=operator)
        elif reason := _contradiction(pair, there, by_card.get(pair.card or "")):
            refused.append(RefusedRow(line=pair.line, reason=reason))
        else:
            draft = Draft(
                kind=Kind.EXPECTED,
                desk=desk,
                operator=operator,
                article=pair.article,
                card=pair.card,
                remark=f"{pairs.name}, line {pair.line}",
                key=f"expected {pairs.digest[:32]} {pair.line}",
                particulars=pair.about,
            )
            outcome = _recorded(ledger, draft, now)
            known += outcome.is_repeated
            added += not outcome.is_repeated
    return Loaded(added=added, known=known, refused=tuple(refused))


def _name(ledger: Ledger, pair: ListedPair, there: Entry, *, desk: str, operator: str) -> None:
    """Record what a list that is loaded again says of a pair and did not say before."""
    known = ledger.about([there.sequence]).get(there.sequence, {}) if pair.about else {}
    if any(known.get(name) != said for name, said in pair.about.items()):
        draft = naming(there, pair.about)
        ledger.append(replace(draft, desk=desk, operator=operator))


def _recorded(ledger: Ledger, draft: Draft, now: datetime) -> Outcome:
    """Record a pair so that it is expected now. One that was withdrawn, or is too old to be
    expected, is recorded again and does not count as known."""
    outcome = ledger.append(draft)
    while outcome.is_repeated:
        before = outcome.entry.sequence
        if any(one.sequence == before for one in expectations(ledger, since=now - EXPECTED_FOR)):
            break
        outcome = ledger.append(replace(draft, key=f"{draft.key} after {before}"))
    return outcome


def _contradiction(pair: ListedPair, same_article: Entry | None, same_card: Entry | None) -> str:
    if same_article is not None:
        return (
            f"{same_article.remark} (entry {same_article.sequence}) gives this article another "
            "card. Void that entry if it no longer holds."
        )
    if same_card is not None:
        return (
            f"{same_card.remark} (entry {same_card.sequence}) gives this card to another "
            "article. Void that entry if it no longer holds."
        )
    return ""


def expectations(ledger: Ledger, *, since: datetime) -> tuple[Entry, ...]:
    """Expected pairs that were recorded at or after `since` and not withdrawn. Raises
    LedgerUnusable."""
    withdrawn = {entry.refers for entry in ledger.entries(kinds=(Kind.VOIDED,), since=since)}
    return tuple(
        entry
        for entry in ledger.entries(kinds=(Kind.EXPECTED,), since=since)
        if entry.sequence not in withdrawn
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """The lists compared with the pieces.

    expected: how many pairs are expected. missing: pairs of which no piece came. left: for each
    pair whose piece came and is not sealed, its last entry (a stop, or the piece that was
    voided). exchanged: entries whose article or card is paired otherwise on a list, and that
    were not corrected later. unexpected: entries whose article is on no list.
    """

    expected: int = 0
    missing: tuple[Entry, ...] = ()
    left: tuple[Entry, ...] = ()
    exchanged: tuple[Entry, ...] = ()
    unexpected: tuple[Entry, ...] = ()


def reckon(ledger: Ledger, *, since: datetime) -> Reckoning:
    """Compare the lists that were loaded at or after `since` with the pieces from then on.

    Without a list nothing is missing and nothing is unexpected. Raises LedgerUnusable.
    """
    listed = expectations(ledger, since=since)
    if not listed:
        return Reckoning()
    pieces = list(ledger.pieces(since=since))
    standing = [one for one in pieces if one.state is not State.VOID]
    sealed = {one.article: one for one in standing}
    stopped = _last_stops(ledger, since, sealed)
    came = {one.article: one.first for one in pieces} | {one.article: one for one in stopped}
    unmet = [one for one in listed if not _is_met(ledger, one, sealed)]
    articles = _expected_articles(ledger, listed, came)
    return Reckoning(
        expected=len(listed),
        missing=tuple(one for one in unmet if one.article not in came),
        left=tuple(came[one.article] for one in unmet if one.article in came),
        exchanged=_exchanged(listed, standing, stopped),
        unexpected=tuple(one for article, one in came.items() if article not in articles),
    )


def _is_met(ledger: Ledger, expected: Entry, sealed: dict[str | None, Piece]) -> bool:
    if expected.article in sealed:
        return True
    # The piece may have been sealed before its list came.
    uses = ledger.earlier(article=expected.article, card=None)
    return any(use.article == expected.article for use in uses)


def _last_stops(ledger: Ledger, since: datetime, sealed: dict[str | None, Piece]) -> list[Entry]:
    """The last stop of each article that was not sealed afterward."""
    stops = {
        entry.article: entry
        for entry in ledger.entries(kinds=(Kind.STOPPED,), since=since)
        if entry.article is not None and entry.article not in sealed
    }
    return list(stops.values())


def _expected_articles(
    ledger: Ledger, listed: tuple[Entry, ...], seen: Iterable[str | None]
) -> set[str | None]:
    """The articles on these lists, and those of `seen` that are on an older list."""
    known = {one.article for one in listed}
    older = set()
    for article in seen:
        if article is not None and article not in known:
            story = ledger.story(article)
            if any(one.entry.article == article and not one.is_withdrawn for one in story.expected):
                older.add(article)
    return known | older


def _exchanged(
    listed: tuple[Entry, ...], pieces: list[Piece], stopped: list[Entry]
) -> tuple[Entry, ...]:
    cards = {one.article: one.card for one in listed if one.card}
    articles = {one.card: one.article for one in listed if one.card}
    held = [(one.first, one.article, one.card) for one in pieces]
    wrong = [
        entry
        for entry, article, card in held
        if cards.get(article or "", card) != card or articles.get(card or "", article) != article
    ]
    codes = ((one, {finding.code for finding in one.findings}) for one in stopped)
    return (*wrong, *(one for one, found in codes if found & _OF_CARDS))
