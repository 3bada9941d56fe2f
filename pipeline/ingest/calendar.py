"""The months and days of the site's broadcast day, as instants, so that nothing downstream needs a zone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import polars as pl

from pipeline.settings import Settings
from pipeline.store import Store

Month = tuple[str, date, date]  # name, first day, day after the last
MONTHS = pl.Schema({"month": pl.String(), "started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us")})
DAYS = pl.Schema({"day": pl.Date(), **MONTHS})
SPAN = """
    select min(b.started_at_utc) as started, greatest(max(b.ended_at_utc), max(e.at_utc), max(s.at_utc)) as ended
    from raw_bookings as b
    cross join (select max(stamped_at_utc) as at_utc from raw_events) as e
    cross join (select max(at_utc) as at_utc from raw_switches) as s
"""
FIRST_DAY, LAST_DAY = date(2, 1, 1), date(9998, 12, 1)  # a day's start needs room for its offset


def write_calendar(store: Store, settings: Settings) -> None:
    """Write ``site_months`` and ``site_days``, one row each, from the first booking to the last booking or stamp.

    Reads ``raw_bookings``, ``raw_events`` and ``raw_switches``, since a machine may feed on after the last booking. A
    month is the broadcast days from its first to its last (see ``month_of``); a broadcast day goes from ``day_starts``
    local to the next, so it has 23 or 25 hours where clocks change. Half-open, naive UTC.
    """
    started, ended = store.read(SPAN).row(0)
    months = list(months_between(started, ended, settings)) if started else []
    spans = [(month, day_start(first, settings), day_start(after, settings)) for month, first, after in months]
    store.write("site_months", pl.DataFrame(spans, schema=MONTHS, orient="row"))
    store.write("site_days", _days(months, settings))


def day_start(day: date, settings: Settings) -> datetime:
    """The instant, naive UTC, at which the broadcast day ``day`` starts.

    Where that wall time comes twice the first is meant; where clocks skip it, the time as if they had not yet.
    """
    wall = datetime.combine(day, settings.day_start, tzinfo=settings.zone)
    return wall.astimezone(UTC).replace(tzinfo=None)


def months_between(started: datetime, ended: datetime, settings: Settings) -> Iterator[Month]:
    """Name, first day and the day after the last, of each month that [started, ended), naive UTC, touches."""
    named = month_of(broadcast_day(started, settings), settings)
    last = broadcast_day(ended - timedelta(microseconds=1), settings)
    while (first := _first_day(named, settings)) <= last:
        after = _next_month(named)
        yield f"{named.year:04}-{named.month:02}", first, _first_day(after, settings)
        named = after


def month_of(day: date, settings: Settings) -> date:
    """The first of the calendar month whose name the month that holds ``day`` bears.

    ``months = "calendar"``: the day's own. ``months = "broadcast"``: that in which the Sunday of the day's week lies,
    weeks from Monday to Sunday; so a month ends with its last Sunday and has 28 or 35 days. This is the calendar that
    American broadcasters and agencies bill by; published tables of it are in the tests.
    """
    counted = _sunday(day) if settings.months == "broadcast" else day
    return counted.replace(day=1)


def _first_day(named: date, settings: Settings) -> date:
    """The first day of the month that is called after the calendar month beginning on ``named``."""
    return _sunday(named) - timedelta(days=6) if settings.months == "broadcast" else named


def _sunday(day: date) -> date:
    return day + timedelta(days=7 - day.isoweekday())


def broadcast_day(at: datetime, settings: Settings) -> date:
    """The broadcast day that holds the instant ``at``, naive UTC; kept within the years 2 to 9998."""
    day = min(max(at.date(), FIRST_DAY), LAST_DAY)
    while day_start(day, settings) > at and day > FIRST_DAY:
        day -= timedelta(days=1)
    while day_start(day + timedelta(days=1), settings) <= at and day < LAST_DAY:
        day += timedelta(days=1)
    return day


def _next_month(first: date) -> date:
    return (first + timedelta(days=31)).replace(day=1)


def _days(months: list[Month], settings: Settings) -> pl.DataFrame:
    if not months:
        return pl.DataFrame(schema=DAYS)
    days = pl.date_range(months[0][1], months[-1][2], eager=True)
    zone, wall = settings.zone, settings.day_start  # read once: a booking without end makes days by the million
    starts = [datetime.combine(day, wall, tzinfo=zone).astimezone(UTC).replace(tzinfo=None) for day in days.to_list()]
    instants = pl.Series(starts, dtype=pl.Datetime("us"))
    to_sunday = pl.duration(days=7 - pl.col("day").dt.weekday() if settings.months == "broadcast" else pl.lit(0))
    frame = pl.DataFrame({"day": days, "started_at_utc": instants}).with_columns(ended_at_utc=instants.shift(-1))
    named = frame.with_columns(month=(pl.col("day") + to_sunday).dt.strftime("%Y-%m"))
    return named.select("day", "month", "started_at_utc", "ended_at_utc").head(-1)
