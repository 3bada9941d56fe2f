"""What the two machines of a pair did while both ran well on one transmission: single faults, doubles, time to return.

Only that time counts, because only then can a fault strike both. What luck would bring is worked out by the same
functions as on the page of what comes back, so that the two pages agree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from pipeline.measure.coincidences import COINCIDENCE_S, MICROSECONDS, NOTHING, WITHIN, Faults, Pair, coincidences
from pipeline.measure.intervals import Stretches, joined

Row = dict[str, Any]
Key = tuple[str, datetime]
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
WINDOW = timedelta(seconds=COINCIDENCE_S)


@dataclass(frozen=True, eq=False)
class PairCount:
    """One pair of machines. ``both``: when both ran well on one transmission; ``shared_s`` is its length with half the
    window more at both ends, as luck is worked out over it.

    ``singles``: the first onset of each run of faults of one machine alone; ``doubles``: the onsets of each event that
    struck both; ``neither_s``: of each, seconds until one of the two ran well again, cut where they ceased to be of one
    transmission. ``waits``: seconds from a single that ended ``both`` until both ran well again, and whether they did
    before they ceased to be of one transmission. p is None where the two never ran together.
    """

    machines: Pair
    singles: tuple[Row, ...]
    doubles: tuple[tuple[Row, ...], ...]
    both: Stretches
    shared_s: float
    expected: float
    p: float | None
    neither_s: tuple[float, ...]
    waits: tuple[tuple[float, bool], ...]


def count_pairs(faults: Faults) -> list[PairCount]:
    """Every two machines that ever were of one transmission, in order of name."""
    by_machine: dict[str, list[Row]] = {}
    for onset in faults.onsets:
        by_machine.setdefault(onset["machine"], []).append(onset)
    return [
        count_pair(pair, [onset for name in pair for onset in by_machine.get(name, [])], faults)
        for pair in sorted(faults.together)
    ]


def count_pair(machines: Pair, onsets: Sequence[Row], faults: Faults) -> PairCount:
    """One pair; ``onsets`` are those of its two machines, in any order.

    A double is a coincidence of the two: onsets of both, each at most ``COINCIDENCE_S`` after the one before, while
    they were of one transmission. Every other onset counts as single where both ran well until it; onsets of one
    machine that follow each other within the window are one.
    """
    running = {name: faults.running.get(name, NOTHING) for name in machines}
    times = faults.together[machines]
    found = coincidences(onsets, running, {machines: times})
    doubles = tuple(members for kind, members in found.clusters if kind == WITHIN)
    both = running[machines[0]].common(running[machines[1]]).common(times)
    in_doubles = {key_of(onset) for members in doubles for onset in members}
    alone = [row for row in onsets if key_of(row) not in in_doubles and both.ends_by(to_us(row["at_utc"]))]
    singles = tuple(_firsts(alone))
    ends = [to_us(row["at_utc"]) for row in singles]
    stops = set(both.stops.tolist())
    waits = tuple(_wait(at_us, both, times) for at_us in ends if at_us in stops)
    either = joined_all(list(running.values()))
    neither = tuple(_wait(max(to_us(row["at_utc"]) for row in members), either, times)[0] for members in doubles)
    test = found.tests[0]
    return PairCount(
        machines, singles, doubles, both, test.shared_s, test.expected, test.p, neither, waits,
    )  # fmt: skip


def key_of(onset: Row) -> Key:
    """What tells one onset from another: no machine has two at one instant."""
    return onset["machine"], onset["at_utc"]


def to_us(at_utc: datetime) -> int:
    """A naive UTC instant in microseconds since 1970."""
    return (at_utc.replace(tzinfo=UTC) - EPOCH) // timedelta(microseconds=1)


def _firsts(onsets: Iterable[Row]) -> list[Row]:
    """The first onset of each run of onsets of one machine that lie within the window of the one before."""
    firsts: list[Row] = []
    last: Key | None = None
    for onset in sorted(onsets, key=key_of):
        if last is None or onset["machine"] != last[0] or onset["at_utc"] - last[1] > WINDOW:
            firsts.append(onset)
        last = key_of(onset)
    return firsts


def _wait(at_us: int, well: Stretches, times: Stretches) -> tuple[float, bool]:
    """Seconds from an instant until ``well`` begins again or ``times`` end, and whether it began before they did."""
    inside = int(np.searchsorted(times.begins, at_us, side="left")) - 1
    until = max(at_us, int(times.stops[inside])) if inside >= 0 else at_us
    place = int(np.searchsorted(well.begins, at_us, side="left"))
    back = int(well.begins[place]) if place < well.begins.size else until
    return (min(back, until) - at_us) / MICROSECONDS, back < until


def joined_all(parts: Sequence[Stretches]) -> Stretches:
    """What lies in any of them."""
    return joined(np.concatenate([one.begins for one in parts]), np.concatenate([one.stops for one in parts]))


def chain_numbers(onsets: Sequence[Row]) -> Mapping[Key, int]:
    """The number of the event that each onset belongs to: onsets of any machines within the window of one another."""
    ordered = sorted(onsets, key=lambda row: (row["at_utc"], row["machine"]))
    number = 0
    numbers: dict[Key, int] = {}
    last: datetime | None = None
    for row in ordered:
        number = len(numbers) if last is None or row["at_utc"] - last > WINDOW else number
        numbers[key_of(row)] = number
        last = row["at_utc"]
    return numbers


def machine_hours(pairs: Sequence[PairCount]) -> float:
    """Hours of single machines in which it and some other of its transmission both ran well, each hour once."""
    own: dict[str, list[Stretches]] = {}
    for pair in pairs:
        for machine in pair.machines:
            own.setdefault(machine, []).append(pair.both)
    return sum(joined_all(mine).length_us for mine in own.values()) / MICROSECONDS / 3600
