"""What the hand-written contenders share: the site's thresholds, its months, and how the answer is printed.

The job: read events, switches, bookings, tickets and the register; drop repeated rows; set unreadable rows aside with a
reason; rebuild each machine's state and each channel's feed; put each second of each transmission's air into one of the
five states; add up by month. Everything in whole microseconds since 1970, so that sums are exact.

Left out by all of them, and not needed by the rooms that are timed: stamps told apart in the doubled hour, clocks
corrected, rulings, transmissions that overlap on a channel, takes of one stamp put in a chain, an offset whose partner
only the bookings tell, line numbers and the original text of a row. The harness holds each answer against airhours'
before it takes any time.
"""

import json
import sys
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
STATES = ("lost", "unknown", "covered", "unproved", "exposed")
# In the order in which they count where their stamps are equal.
TURNS = {
    "stop": 1, "roll": 2, "unlock": 3, "lock": 4, "picture_lost": 5, "sound_lost": 5, "picture_back": 6,
    "sound_back": 6,
}  # fmt: skip
EVENTS = (
    *TURNS, "offset", "alarm", "clear", "clean", "lineup", "head_fitted", "part_fitted", "hours", "record_on",
    "record_off", "clock", "alive",
)  # fmt: skip
ACTIONS = ("take", "start")
REASONS = ("fault", "precaution", "planned", "rehearsal", "return")
ROLES = ("air", "protect", "record", "record_protect", "dub", "maintenance")

Sums = dict[str, dict[str, float]]


@dataclass(frozen=True)
class Job:
    """A site and what its site.toml says; lengths in microseconds, the tolerance in seconds."""

    site: Path
    zone: str
    day_starts: time
    tolerance_s: float
    lead_us: int
    carry_us: int
    silence_us: int
    tail_us: int

    def months(self, first_us: int, last_us: int) -> Iterator[tuple[str, int, int]]:
        """Name, start and end of every month of the broadcast day that touches the time between two instants."""
        near = (EPOCH + timedelta(microseconds=first_us)).date() - timedelta(days=2)
        month = near.replace(day=1)
        while (start := self._starts(month)) <= last_us:
            following = (month + timedelta(days=32)).replace(day=1)
            yield f"{month:%Y-%m}", start, self._starts(following)
            month = following

    def _starts(self, day: date) -> int:
        local = datetime.combine(day, self.day_starts, ZoneInfo(self.zone))
        return (local.astimezone(UTC) - EPOCH) // timedelta(microseconds=1)


def read_job(site: Path) -> Job:
    """The job of a site folder, with the contract's defaults for what its site.toml leaves out."""
    said = tomllib.loads((site / "site.toml").read_text(encoding="utf-8"))

    def length(name: str, default: float) -> int:
        return round(float(said.get(name, default)) * 1_000_000)

    return Job(
        site,
        said["timezone"],
        time.fromisoformat(said.get("day_starts", "00:00")),
        float(said.get("sync_tolerance_s", 1 / said["frame_rate"])),
        length("lead_s", 600),
        length("carry_s", 14_400),
        length("silence_s", 180),
        length("tail_s", 15),
    )


def asked_job() -> Job:
    """The job of the site folder named on the command line."""
    return read_job(Path(sys.argv[1]))


def print_answer(sums: Iterable[tuple[str, str, int]], aside: int, repeats: int) -> None:
    """Print month, state and microseconds as the one JSON object that the harness compares."""
    months: Sums = {}
    for month, state, length_us in sums:
        months.setdefault(month, {f"{name}_s": 0.0 for name in STATES})[f"{state}_s"] += length_us / 1_000_000
    print(json.dumps({"months": dict(sorted(months.items())), "set_aside": aside, "repeats": repeats}))
