"""Faults that begin on several machines within a few seconds, and how many such luck alone would give.

Two machines that fail together may share a cause: a reel copied twice, a reference, the mains, the air. Machines that
are used at the same hours also fail together by luck, so each pair is held against its own two rates.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import combinations
from typing import Any

import numpy as np
import polars as pl

from pipeline.measure.coincidence_queries import ONSETS, RUNNING, TOGETHER
from pipeline.measure.intervals import Stretches, joined, stretches_of
from pipeline.statistics import poisson_at_least
from pipeline.store import Store

COINCIDENCE_S = 5.0  # onsets on different machines this close, inclusive, are one coincidence
WITHIN = "machines of one transmission"
ACROSS = "machines with nothing in common but the room"
MICROSECONDS = 1_000_000
KEPT = "kept_onsets"  # a temporary table
NOTHING = joined(np.array([], dtype=np.int64), np.array([], dtype=np.int64))
TABLE: dict[str, Any] = {
    "cluster_no": pl.Int64, "kind": pl.String, "machine": pl.String, "at_utc": pl.Datetime("us"),
    "within_s": pl.Float64, "what": pl.String, "recovery_no": pl.Int64, "incident": pl.String, "channel": pl.String,
    "reel": pl.String,
}  # fmt: skip
Row = dict[str, Any]
Pair = tuple[str, str]


@dataclass(frozen=True)
class Excess:
    """One kind of coincidence: clusters seen, clusters expected by chance (at most), and the chance of so many.

    ``shared_s``: seconds in which two machines of the kind both ran well, summed over all pairs of machines. p is None
    where no two machines ever could have coincided.
    """

    kind: str
    count: int
    expected: float
    shared_s: float
    p: float | None


@dataclass(frozen=True)
class Coincidences:
    """The tests of both kinds, and the clusters in order of time, each its kind and its onsets."""

    tests: tuple[Excess, ...]
    clusters: tuple[tuple[str, tuple[Row, ...]], ...]

    def table(self) -> pl.DataFrame:
        """One row an onset of a cluster."""
        rows = [
            {**onset, "cluster_no": number, "kind": kind}
            for number, (kind, onsets) in enumerate(self.clusters, 1)
            for onset in onsets
        ]
        return pl.DataFrame([{name: row.get(name) for name in TABLE} for row in rows], schema=TABLE)

    def document(self, adjusted: Sequence[float | None]) -> Row:
        """The part of figures.json; ``adjusted`` are the adjusted p of the tests, in their order."""
        kinds = [{**vars(test), "adjusted_p": p} for test, p in zip(self.tests, adjusted, strict=True)]
        clusters = [{"kind": kind, "onsets": [_plain(onset) for onset in onsets]} for kind, onsets in self.clusters]
        return {"window_s": COINCIDENCE_S, "kinds": kinds, "clusters": clusters}


def _plain(onset: Row) -> Row:
    return {
        "machine": onset["machine"], "at": f"{onset['at_utc'].isoformat()}Z", "within_s": onset["within_s"],
        "what": onset["what"], "channel": onset["channel"], "reel": onset.get("reel"),
        "incident": onset["incident"],
    }  # fmt: skip


@dataclass(frozen=True)
class Faults:
    """Every fault that began on a machine that ran well, when each machine ran well, and when two were of one
    transmission (by pair in order of name)."""

    onsets: tuple[Row, ...]
    running: Mapping[str, Stretches]
    together: Mapping[Pair, Stretches]


def find_coincidences(store: Store) -> Coincidences:
    """Look for coincidences in all of the data; reads what ``read_faults`` reads."""
    faults = read_faults(store)
    return coincidences(faults.onsets, faults.running, faults.together)


@contextmanager
def keeping_onsets(store: Store) -> Iterator[None]:
    """Work the onsets out once for all that ask for them inside; the tables that they rest on may not change there."""
    store.run(f"create or replace temp table {KEPT} as {ONSETS}")
    try:
        yield
    finally:
        store.run(f"drop table {KEPT}")


def onsets_select(store: Store) -> str:
    """The select of all onsets, in order of time: from the table while one is kept, else worked out."""
    return f"select * from {KEPT} order by at_utc, machine" if store.has(KEPT) else ONSETS


def read_faults(store: Store) -> Faults:
    """The onsets of the room, and the times they are held against.

    Reads ``core_machine_moments``, ``core_words``, ``core_recoveries``, ``core_interruptions``, ``core_alarms``,
    ``core_incident_recoveries``, ``core_members``, ``core_settings``, ``core_as_of`` and ``clean_bookings``. An
    onset counts where the machine ran well until it: one that never came up failed at no moment of its own.
    """
    running = _by_machine(store.read(RUNNING))
    together: dict[Pair, Stretches] = {
        (str(one), str(other)): stretches_of(rows)
        for (one, other), rows in store.read(TOGETHER).group_by("machine", "other", maintain_order=True)
    }
    onsets = tuple(onset for onset in store.read(onsets_select(store)).to_dicts() if _ran_until(running, onset))
    return Faults(onsets, running, together)


def _by_machine(frame: pl.DataFrame) -> dict[str, Stretches]:
    return {str(machine): stretches_of(rows) for (machine,), rows in frame.group_by("machine", maintain_order=True)}


def _ran_until(running: Mapping[str, Stretches], onset: Row) -> bool:
    return running.get(onset["machine"], NOTHING).ends_by(_us(onset["at_utc"]))


def coincidences(
    onsets: Sequence[Row], running: Mapping[str, Stretches], together: Mapping[Pair, Stretches]
) -> Coincidences:
    """Clusters among ``onsets`` (machine, at_utc, in any order) against chance.

    ``running``: when each machine ran well. ``together``: for two machines, in order of name, when both were of one
    transmission. Expected is an upper bound (see ``chance_of_pairs``), so p is never too small on its account.
    """
    counts: dict[str, int] = {}
    for onset in onsets:
        counts[onset["machine"]] = counts.get(onset["machine"], 0) + 1
    clusters = tuple((_kind(members, together), members) for members in _clusters(onsets))
    expected, shared = chance_of_pairs(counts, running, together)
    tests = []
    for kind in (WITHIN, ACROSS):
        count = sum(found == kind for found, _ in clusters)
        p = poisson_at_least(count, expected[kind]) if shared[kind] else None
        tests.append(Excess(kind, count, expected[kind], shared[kind], p))
    return Coincidences(tuple(tests), clusters)


def chance_of_pairs(
    counts: Mapping[str, int], running: Mapping[str, Stretches], together: Mapping[Pair, Stretches]
) -> tuple[dict[str, float], dict[str, float]]:
    """Pairs of onsets that luck would bring within the window, and the seconds both of two machines ran, by kind.

    Σ over pairs of machines of r_a r_b · 2 w · T: r is a machine's onsets over the time it ran, w the window, T the
    time both ran, each stretch taken w/2 longer at both ends so that no pair of onsets falls outside. Two onsets are of
    the kind that holds half-way between them. Every cluster holds at least one pair, so as many clusters are expected
    at most. The onsets that coincided are among those that make the rates, which also leans to the side of luck.
    """
    half_us = round(COINCIDENCE_S * MICROSECONDS / 2)
    expected, shared = {WITHIN: 0.0, ACROSS: 0.0}, {WITHIN: 0.0, ACROSS: 0.0}
    wide = {machine: stretches.widened(half_us) for machine, stretches in running.items()}
    rates = {
        machine: counts.get(machine, 0) / (stretches.length_us / MICROSECONDS)
        for machine, stretches in running.items()
        if stretches.length_us
    }
    for one, other in combinations(sorted(rates), 2):
        both = wide[one].common(wide[other])
        own_us = both.common(together.get((one, other), NOTHING)).length_us
        for kind, length_us in ((WITHIN, own_us), (ACROSS, both.length_us - own_us)):
            shared[kind] += length_us / MICROSECONDS
            expected[kind] += rates[one] * rates[other] * 2 * COINCIDENCE_S * length_us / MICROSECONDS
    return expected, shared


def _clusters(onsets: Sequence[Row]) -> Iterator[tuple[Row, ...]]:
    """Chains of onsets no further apart than the window from one to the next, that touch more than one machine."""
    chain: list[Row] = []
    for onset in sorted(onsets, key=lambda row: (row["at_utc"], row["machine"])):
        if chain and onset["at_utc"] - chain[-1]["at_utc"] > timedelta(seconds=COINCIDENCE_S):
            yield from _if_several(chain)
            chain = []
        chain.append(onset)
    yield from _if_several(chain)


def _if_several(chain: list[Row]) -> Iterator[tuple[Row, ...]]:
    if len({onset["machine"] for onset in chain}) > 1:
        yield tuple(chain)


def _kind(members: Sequence[Row], together: Mapping[Pair, Stretches]) -> str:
    """Across the room as soon as two of the onsets are of machines that were of no one transmission."""
    for first, second in combinations(members, 2):
        one, other = sorted((first["machine"], second["machine"]))
        middle = (_us(first["at_utc"]) + _us(second["at_utc"])) // 2
        if one != other and not together.get((one, other), NOTHING).holds(middle):
            return ACROSS
    return WITHIN


def _us(at_utc: datetime) -> int:
    return (at_utc.replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
