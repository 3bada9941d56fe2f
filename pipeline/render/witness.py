"""Finds the rows that prove a fact: the last words of a machine, where the selector stood, what was booked.

A state is never logged itself; it follows from the last word of each kind. These are the rows a reader has to see.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from pipeline.render.reading import Row, Rows

KINDS = {
    "roll": "motion", "stop": "motion", "lock": "lock", "unlock": "lock", "picture_lost": "picture",
    "picture_back": "picture", "sound_lost": "sound", "sound_back": "sound",
}  # fmt: skip
BAD = frozenset({"stop", "unlock", "picture_lost", "sound_lost"})
FAULTS = frozenset({"alarm", "unlock", "picture_lost", "sound_lost"})
AIR_ROLES = frozenset({"air", "protect"})


@dataclass(frozen=True)
class Cover:
    """A machine that stood behind the one on air, the last offset between the two, and the rows that prove it."""

    machine: str
    offset: Row | None
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Witness:
    """The rows around one incident. ``is_before`` asks what held just before an instant, not from it on."""

    around: Mapping[str, Rows]

    def rows(self, table: str) -> Rows:
        """The rows of a table; none where it was not read."""
        return self.around.get(table, [])

    def events_at(self, machine: str | None, at_utc: datetime) -> Rows:
        """What a machine logged at just that corrected instant, but for words that say nothing."""
        return [
            row
            for row in self.rows("events")
            if row["machine"] == machine and row["at_utc"] == at_utc and row["event"] != "alive"
        ]

    def takes_at(self, channel: str, at_utc: datetime) -> Rows:
        """The takes of a channel at just that instant."""
        return [
            row
            for row in self.rows("takes")
            if row["channel"] == channel and row["at_utc"] == at_utc and row.get("action", "take") == "take"
        ]

    def words(self, machine: str | None, at_utc: datetime, *, is_before: bool = False) -> dict[str, Row]:
        """The last word of a machine on motion, lock, picture and sound."""
        last: dict[str, Row] = {}
        for row in (*self.rows("standing"), *self.rows("events")):
            is_told = row["at_utc"] < at_utc or (not is_before and row["at_utc"] == at_utc)
            if row["machine"] == machine and row["event"] in KINDS and is_told:
                last[KINDS[row["event"]]] = row
        begun = last.get("motion")  # what was lost or back in an earlier run says nothing of this one
        return {
            kind: row
            for kind, row in last.items()
            if kind in ("motion", "lock") or begun is None or row["at_utc"] >= begun["at_utc"]
        }

    def bad_words(self, machine: str | None, at_utc: datetime, *, is_before: bool = False) -> Rows:
        """The words that make a machine not good, in order of time; a roll that no lock has followed is one."""
        last = self.words(machine, at_utc, is_before=is_before)
        motion, lock = last.get("motion"), last.get("lock")
        if motion and motion["event"] == "stop":
            return [motion]
        since = motion["at_utc"] if motion else None
        bad = [row for row in last.values() if row["event"] in BAD and (since is None or row["at_utc"] >= since)]
        if not bad and motion and (lock is None or lock["at_utc"] < motion["at_utc"]):
            return [motion]
        return sorted(bad, key=lambda row: row["at_utc"])

    def selector(self, channel: str, at_utc: datetime, *, is_before: bool = False) -> Row | None:
        """The take that had put the channel's selector where it stood; None where none is known."""
        last = None
        for row in (*self.rows("last_takes"), *self.rows("takes")):
            is_told = row["at_utc"] < at_utc or (not is_before and row["at_utc"] == at_utc)
            if row["channel"] == channel and row.get("action", "take") == "take" and is_told:
                last = row
        return last

    def booked(self, at_utc: datetime, *, channel: str | None = None, machine: str | None = None) -> Rows:
        """Bookings that hold at an instant, their end included: of a channel's air and protect, or of a machine."""
        return [
            row
            for row in self.rows("booked")
            if row["started_at_utc"] <= at_utc <= row["ended_at_utc"]
            if machine is None or row["machine"] == machine
            if channel is None or (row["channel"] == channel and row["role"] in AIR_ROLES)
        ]

    def on_air(self, channel: str, machine: str | None, at_utc: datetime, *, is_before: bool = False) -> Rows:
        """What proves that a machine fed a channel: the last take if it went there, else its booking."""
        take = self.selector(channel, at_utc, is_before=is_before)
        if take is not None and take["to_machine"] == machine:
            return [take]
        return self.booked(at_utc, channel=channel, machine=machine)[:1]

    def offset(self, one: str, other: str, at_utc: datetime, *, is_before: bool = False) -> Row | None:
        """The last offset logged between two machines, with its file and line."""
        pair, last = {one, other}, None
        standing = [row for row in self.rows("standing") if row["event"] == "offset"]
        logged = {(row["file"], row["line"]): row for row in self.rows("events") if row["event"] == "offset"}
        placed = [
            logged[row["file"], row["line"]] | {"partner": row["partner"], "is_within": row["is_within"]}
            for row in self.rows("offsets")
            if (row.get("file"), row.get("line")) in logged
        ]
        for row in sorted((*standing, *placed), key=lambda row: row["at_utc"]):
            is_told = row["at_utc"] < at_utc or (not is_before and row["at_utc"] == at_utc)
            if {row["machine"], row.get("partner")} == pair and is_told:
                last = row
        return last

    def is_in(self, row: Row, at_utc: datetime, *, is_before: bool) -> bool:
        """Whether a stretch holds at an instant, or just before it."""
        started, ended = row["started_at_utc"], row["ended_at_utc"]
        if is_before:
            return bool(started < at_utc and (ended is None or ended >= at_utc))
        return bool(started <= at_utc and (ended is None or ended > at_utc))

    def covers(self, feed: str, at_utc: datetime, *, is_before: bool = False) -> Iterator[Cover]:
        """The machines that were good and in step with the one that fed, by name, each with its proof."""
        good = {
            row["machine"]
            for row in self.rows("states")
            if row["state"] == "good" and self.is_in(row, at_utc, is_before=is_before)
        }
        for row in self.rows("pair_states"):
            pair = {row["machine_a"], row["machine_b"]}
            if not row["is_in_step"] or feed not in pair or not self.is_in(row, at_utc, is_before=is_before):
                continue
            other = next(iter(pair - {feed}))
            if other in good:
                offset = self.offset(feed, other, at_utc, is_before=is_before)
                words = [
                    word for name in (feed, other) for word in self.words(name, at_utc, is_before=is_before).values()
                ]
                yield Cover(other, offset, tuple(([offset] if offset else []) + words))
