"""A day at the desk: from midnight to midnight by the desk's own clock, not by UTC.

Entries carry UTC. An office west of Greenwich would find its afternoon on the next day's list.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta, tzinfo


def span(day: date, zone: tzinfo | None = None) -> tuple[datetime, datetime]:
    """The day's first moment and the next day's, aware. A day has 23 or 25 hours where the
    clocks are put on or back. zone: by default this machine's."""
    return _midnight(day, zone), _midnight(day + timedelta(days=1), zone)


def day_of(moment: datetime, zone: tzinfo | None = None) -> date:
    """The day on which an aware moment lies. zone: by default this machine's."""
    return moment.astimezone(zone).date()


def _midnight(day: date, zone: tzinfo | None) -> datetime:
    naive = datetime.combine(day, time.min)
    return naive.astimezone() if zone is None else naive.replace(tzinfo=zone)
