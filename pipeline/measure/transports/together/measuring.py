"""Whether the two machines of a pair fail together more than luck, and what that leaves of their protection."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.measure.coincidences import COINCIDENCE_S, MICROSECONDS, Faults, Pair, read_faults
from pipeline.measure.transports.together.counts import (
    PairCount,
    chain_numbers,
    count_pairs,
    key_of,
    machine_hours,
)
from pipeline.measure.transports.together.doubles import list_doubles, recordings, reels_elsewhere
from pipeline.measure.transports.together.outcomes import Year, cover, limits_of, programmes, year
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.settings import Settings
from pipeline.statistics import benjamini_hochberg, common_cause_share, least_share_found, poisson_at_least
from pipeline.store import Store

LEVEL = 0.05  # adjusted probabilities below it are called more than luck
POWER = 0.8
PARTNERS = "select machine, partner from core_partners"
ROOM, OTHERS = "room", "others"


def measure_together(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:  # noqa: ARG001
    """The part ``together``: pairs, the room, doubles one by one, and what the shared cause does.

    Reads what ``read_faults`` reads, and ``core_partners``; writes nothing. Durations end in ``_s`` and ``_h``, chances
    and shares are 0–1, what cannot be said is None.
    """
    partners = store.read(PARTNERS)
    registered = {(min(row), max(row)) for row in partners.iter_rows()}
    return judge_together(read_faults(store), registered)


def judge_together(faults: Faults, registered: set[Pair]) -> dict[str, Any]:
    """Judge the faults of a room; ``registered`` are its pairs, each in order of name.

    Tested are the room, each registered pair that ran together, and all other machines of one transmission as one. p
    is the chance that luck brings so many doubles (Poisson); adjusted p is by Benjamini and Hochberg over these tests.
    A pair is not named where all its doubles are of recordings that failed on another pair too (``reels_elsewhere``).
    """
    pairs = count_pairs(faults)
    own = [pair for pair in pairs if pair.machines in registered]
    rest = [pair for pair in pairs if pair.machines not in registered]
    chains = chain_numbers(faults.onsets)
    groups = {ROOM: _tally(pairs, chains), OTHERS: _tally(rest, chains)}
    groups |= {" ".join(pair.machines): _tally([pair], chains) for pair in own}
    rows = _adjusted(groups)
    room = rows.pop(ROOM)
    others = rows.pop(OTHERS)
    judged = [{"machines": list(pair.machines), **row} for pair, row in zip(own, rows.values(), strict=True)]
    doubles = list_doubles(pairs, chains, faults)
    for row in judged:
        row["reels_elsewhere"] = reels_elsewhere(row["machines"], doubles)
        row["is_named"] = row["is_named"] and row["reels_elsewhere"] is None
    room |= _counted_once(groups[ROOM], doubles)
    neither_s = sum(double["neither_s"] for double in doubles)
    return {
        "window_s": COINCIDENCE_S,
        "level": LEVEL,
        "power": POWER,
        "comparisons": sum(tally.p is not None for tally in groups.values()),
        "room": room,
        "pairs": judged,
        "others": others if rest else None,
        "named": [row["machines"] for row in judged if row["is_named"]],
        "doubles": doubles,
        **_outcomes(groups[ROOM], room["share"], pairs, _scaled(room["shared_s"], neither_s, faults)),
    }


@dataclass(frozen=True)
class Tally:
    """Events of one or several pairs of machines, each event once: see ``PairCount``.

    ``failures``: machines that failed, each once an event. ``struck``: the numbers of the events that were double.
    """

    machines: tuple[str, ...]
    pairs_count: int
    singles: int
    doubles: int
    failures: int
    struck: frozenset[int]
    shared_s: float
    expected: float
    p: float | None


def _tally(pairs: Sequence[PairCount], chains: Mapping[tuple[str, Any], int]) -> Tally:
    """A fault that three machines of a transmission share is one double; a machine alone against two is one single."""
    hit = {(chains[key_of(row)], row["machine"]) for pair in pairs for one in pair.doubles for row in one}
    struck = frozenset(number for number, _ in hit)
    alone = {(chains[key_of(row)], row["machine"]) for pair in pairs for row in pair.singles}
    singles = sum(number not in struck for number, _ in alone)
    shared_s, expected = sum(pair.shared_s for pair in pairs), sum(pair.expected for pair in pairs)
    p = poisson_at_least(len(struck), expected) if shared_s else None
    machines = tuple(sorted({name for pair in pairs for name in pair.machines}))
    return Tally(machines, len(pairs), singles, len(struck), singles + len(hit), struck, shared_s, expected, p)


def _counted_once(room: Tally, doubles: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The room's doubles and share with each recording counted once, however often it was played; None where no
    recording failed at the same spot of both copies more than once."""
    again = sum(len(played) - 1 for played in recordings(doubles).values())
    if not again:
        return {"doubles_once_count": None, "share_once": None}
    once = room.doubles - again
    share = limits_of(common_cause_share(room.singles, once, chance_doubles=room.expected))
    return {"doubles_once_count": once, "share_once": share}


def _adjusted(groups: Mapping[str, Tally]) -> dict[str, dict[str, Any]]:
    tested = {name: tally.p for name, tally in groups.items() if tally.p is not None}
    adjusted = dict(zip(tested, benjamini_hochberg(list(tested.values())).tolist(), strict=True))
    return {name: _row(tally, adjusted.get(name), len(tested)) for name, tally in groups.items()}


def _row(tally: Tally, adjusted_p: float | None, comparisons: int) -> dict[str, Any]:
    events = tally.singles + tally.doubles
    least = None if tally.p is None else least_doubles(tally.expected, LEVEL / comparisons)
    found = math.inf if least is None else least_share_found(events, least, POWER)
    return {
        "machines_count": len(tally.machines),
        "pairs_count": tally.pairs_count,
        "shared_s": tally.shared_s,
        "singles_count": tally.singles,
        "doubles_count": tally.doubles,
        "expected": tally.expected,
        "p": tally.p,
        "adjusted_p": adjusted_p,
        "is_named": adjusted_p is not None and adjusted_p < LEVEL,
        "share": limits_of(common_cause_share(tally.singles, tally.doubles, chance_doubles=tally.expected)),
        "least_doubles": least,
        "least_share": None if math.isinf(found) else found,
    }


def least_doubles(expected: float, level: float) -> int:
    """The least number of doubles, 1 or more, that luck brings with a chance below ``level``."""
    count = 1
    while poisson_at_least(count, expected) >= level:
        count += 1
    return count


def _outcomes(room: Tally, share: Mapping[str, float | None], pairs: Sequence[PairCount], seen: Year) -> dict[str, Any]:
    """The room's rate, its time to return, and what they make of a pair; None where no machine failed."""
    machine_h = machine_hours(pairs)
    rate = room.failures / machine_h if machine_h else 0.0
    covered = cover([wait for pair in pairs for wait in pair.waits])
    back_s = covered["back_s"]["value"]
    back_h = None if back_s is None else back_s / 3600
    return {
        "failures_count": room.failures,
        "machine_h": machine_h,
        "failures_per_1000_h": 1000 * rate if machine_h else None,
        "cover": covered,
        "programmes": programmes(rate, dict(share), back_h) if rate else [],
        "year": year(rate, dict(share), back_h, seen),
    }


def _scaled(shared_s: float, neither_s: float, faults: Faults) -> Year:
    """What was seen, scaled from the time between the first and the last moment that any machine ran to a year."""
    lasting = [one for one in faults.running.values() if one.begins.size]
    if not lasting:
        return Year(0.0, 0.0)
    span_us = max(int(one.stops[-1]) for one in lasting) - min(int(one.begins[0]) for one in lasting)
    years = span_us / MICROSECONDS / 3600 / HOURS_A_YEAR
    return Year(shared_s / 3600 / years, neither_s / years)
