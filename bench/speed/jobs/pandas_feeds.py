"""The feeds of a canonical site as pandas frames: readable rows, each once; the others set aside with a reason."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd  # type: ignore[import-untyped]

from bench.speed.jobs.job import ACTIONS, EVENTS, REASONS, ROLES, TURNS, Job


@dataclass(frozen=True)
class Feeds:
    """The readable rows of each feed, each once, and how many were set aside or came again."""

    events: pd.DataFrame
    switches: pd.DataFrame
    bookings: pd.DataFrame
    machines: pd.DataFrame
    aside: int
    repeats: int


def read_feeds(job: Job) -> Feeds:
    """Read every feed; unreadable rows are set aside with a reason, rows that came again dropped."""
    events, switches = _judge_events(job), _judge_switches(job)
    bookings, tickets = _judge_bookings(job), _judge_tickets(job)
    machines = Judged(job.site, "machines*.csv")
    said = events.kept()[["machine", "at_us", "event", "value_number", "detail"]].rename(
        columns={"value_number": "value"}
    )
    columns = ["at_us", "action", "channel", "from_machine", "to_machine", "reason", "by"]
    moved = switches.kept()[columns]
    once, taken = said.drop_duplicates(), moved.drop_duplicates()
    once = once.assign(place=once["event"].map(TURNS).fillna(7).astype("int8"))
    booked = bookings.kept(starts_us="start_us", ends_us="end_us").drop_duplicates("booking", keep="last")
    aside = sum(feed.aside for feed in (events, switches, bookings, tickets))
    repeats = len(said) - len(once) + len(moved) - len(taken)
    return Feeds(once, taken, booked, machines.rows, aside, repeats)


class Judged:
    """One feed's rows as text; each problem asked for sets rows aside with a reason, the first one found."""

    def __init__(self, site: Path, pattern: str) -> None:
        files = sorted(site.glob(pattern))
        read = [pd.read_csv(path, dtype=str, keep_default_na=False, na_values=[""]) for path in files]
        self.rows = pd.concat(
            [rows.assign(file=path.name) for path, rows in zip(files, read, strict=True)], ignore_index=True
        )
        self.why = pd.Series(pd.NA, index=self.rows.index, dtype="string")

    def refuse(self, wrong: "pd.Series[bool]", reason: str) -> None:
        self.why = self.why.mask(wrong.fillna(value=True).astype(bool) & self.why.isna(), reason)

    def filled(self, *names: str) -> None:
        for name in names:
            self.refuse(self.rows[name].isna(), f"{name} is empty")

    def word(self, name: str, words: Sequence[str], *, may_miss: bool = False) -> None:
        known = self.rows[name].isin(list(words))
        self.refuse(~known & self.rows[name].notna() if may_miss else ~known, f"{name} is none of the words")

    def number(self, name: str) -> None:
        number = pd.to_numeric(self.rows[name], errors="coerce")
        self.refuse(self.rows[name].notna() & ~np.isfinite(number), f"{name} is no number")
        self.rows[f"{name}_number"] = number

    def time(self, job: Job, name: str, *, may_miss: bool = False) -> None:
        at = _in_us(job, self.rows[name])
        self.refuse(at.isna() & self.rows[name].notna() if may_miss else at.isna(), f"{name} is no time")
        self.rows[f"{name}_us"] = at

    def kept(self, **names: str) -> pd.DataFrame:
        good = self.rows[self.why.isna()].rename(columns=names)
        return good.astype({name: "int64" for name in ("at_us", "start_us", "end_us") if name in good})

    @property
    def aside(self) -> int:
        return int(self.why.notna().sum())


def _in_us(job: Job, cells: "pd.Series[str]") -> "pd.Series[Any]":
    """Microseconds since 1970, UTC; a stamp without an offset is in the site's zone."""
    zoned = cells.str.contains(r"(?:Z|[+-]\d\d:\d\d)$", na=False)
    at = pd.Series(pd.NA, index=cells.index, dtype="Int64")
    if zoned.any():
        at = at.mask(zoned, _us(pd.to_datetime(cells.where(zoned), format="ISO8601", errors="coerce", utc=True)))
    if not zoned.all():
        local = pd.to_datetime(cells.mask(zoned), format="ISO8601", errors="coerce")
        there = local.dt.tz_localize(job.zone, ambiguous=np.ones(len(local), dtype=bool), nonexistent="NaT")
        at = at.mask(~zoned, _us(there.dt.tz_convert("UTC")))
    return at


def _us(at: Any) -> "pd.Series[Any]":
    count = at.dt.tz_localize(None).to_numpy().astype("datetime64[us]").view("int64")
    return pd.Series(count, index=at.index, dtype="Int64").mask(at.isna())


def _judge_events(job: Job) -> Judged:
    feed = Judged(job.site, "events/*.csv")
    feed.time(job, "at")
    feed.filled("machine")
    feed.word("event", EVENTS)
    feed.number("value")
    return feed


def _judge_switches(job: Job) -> Judged:
    feed = Judged(job.site, "switches*.csv")
    feed.time(job, "at")
    feed.word("action", ACTIONS)
    feed.filled("channel", "to_machine")
    feed.word("reason", REASONS, may_miss=True)
    return feed


def _judge_bookings(job: Job) -> Judged:
    feed = Judged(job.site, "bookings*.csv")
    feed.filled("booking", "machine")
    feed.word("role", ROLES)
    feed.time(job, "starts")
    feed.time(job, "ends")
    nameless = feed.rows["role"].isin(["air", "protect"]) & feed.rows[["transmission", "channel"]].isna().any(axis=1)
    feed.refuse(nameless, "it names no transmission")
    feed.refuse(feed.rows["ends_us"] <= feed.rows["starts_us"], "it ends before it starts")
    return feed


def _judge_tickets(job: Job) -> Judged:
    feed = Judged(job.site, "tickets*.csv")
    feed.filled("ticket")
    for name in ("opened", "restored", "closed"):
        feed.time(job, name, may_miss=True)
    feed.number("labour_hours")
    feed.number("parts_cost")
    return feed
