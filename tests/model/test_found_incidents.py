"""Incidents by chains against the definition itself: every pair compared, and their connected sets by SciPy."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import combinations
from random import Random
from typing import Any

import polars as pl
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.sql_files import read_models
from pipeline.store import Store
from tests.model.room_tables import open_memory

SQL = next(model.sql for model in read_models() if model.name == "core_found_incidents")
START = datetime(2031, 3, 9, 20)  # noqa: DTZ001 - tables hold naive UTC
TIME = pl.Datetime("us")
EVENTS = {
    "recovery_no": pl.Int64, "switch_no": pl.Int64, "channel": pl.String, "machine": pl.String, "started_at_utc": TIME,
    "ended_at_utc": TIME, "settled_at_utc": TIME,
}  # fmt: skip


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        opened.write("core_rescues", pl.DataFrame(schema={
            "channel": pl.String, "started_at_utc": TIME, "ended_at_utc": TIME, "machine": pl.String,
        }))  # fmt: skip
        yield opened


def groups(store: Store, events: list[dict[str, Any]], gap_s: int) -> set[frozenset[int]]:
    """The recoveries of each incident, as the model has them; every event has a switch of its own to ``to``."""
    rows = [{**event, "switch_no": event["recovery_no"]} for event in events]
    store.write("core_recovery_events", pl.DataFrame(rows, schema=EVENTS))
    taken = {"switch_no": [event["recovery_no"] for event in events], "to_machine": [event["to"] for event in events]}
    store.write("core_switches", pl.DataFrame(taken, schema={"switch_no": pl.Int64, "to_machine": pl.String}))
    store.run(f"create or replace table core_settings as select to_seconds({gap_s}) as incident_gap_time")
    store.build("core_found_incidents", SQL)
    found: dict[str, set[int]] = {}
    for number, incident in store.read("select recovery_no, incident from core_found_incidents").rows():
        found.setdefault(incident, set()).add(number)
    return {frozenset(each) for each in found.values()}


def by_definition(events: list[dict[str, Any]], gap_s: int) -> set[frozenset[int]]:
    """Any two that share a channel or machine and lie closer than the gap are linked; connected sets by SciPy."""
    gap = timedelta(seconds=gap_s)
    pairs = [(a, b) for a, b in combinations(range(len(events)), 2) if _linked(events[a], events[b], gap)]
    size = (len(events), len(events))
    rows, columns = [a for a, _ in pairs], [b for _, b in pairs]
    _, labels = connected_components(coo_array(([1] * len(pairs), (rows, columns)), shape=size), directed=False)
    found: dict[int, set[int]] = {}
    for event, label in zip(events, labels, strict=True):
        found.setdefault(int(label), set()).add(event["recovery_no"])
    return {frozenset(each) for each in found.values()}


def _linked(a: dict[str, Any], b: dict[str, Any], gap: timedelta) -> bool:
    machines = [{event["machine"], event["to"]} - {None} for event in (a, b)]
    shared = a["channel"] == b["channel"] or machines[0] & machines[1]
    ends = [max(event["ended_at_utc"], event["settled_at_utc"]) for event in (a, b)]
    return bool(shared) and b["started_at_utc"] < ends[0] + gap and a["started_at_utc"] < ends[1] + gap


def room(dice: Random) -> list[dict[str, Any]]:
    """Events on few channels and machines, some of no length, no two with the same beginning (they name incidents)."""
    machines = [f"M{number}" for number in range(dice.choice([3, 8, 30]))]
    channels = [f"C{number}" for number in range(dice.choice([1, 4, 20]))]
    events = []
    for number, start in enumerate(dice.sample(range(dice.choice([400, 4000])), 60), start=1):
        at = START + timedelta(seconds=start)
        end = at + timedelta(seconds=dice.choice([0, 0, 1, 5, 60, 900]))
        events.append(
            {
                "recovery_no": number,
                "channel": dice.choice(channels),
                "machine": dice.choice([None, *machines]),
                "started_at_utc": at,
                "ended_at_utc": end,
                "settled_at_utc": end + timedelta(seconds=dice.choice([0, 0, 30])),
                "to": dice.choice([None, None, *machines]),
            }
        )
    dice.shuffle(events)
    return events


@pytest.mark.parametrize("seed", range(12))
def test_chains_make_the_sets_that_all_pairs_make(store: Store, seed: int) -> None:
    dice = Random(seed)
    events, gap_s = room(dice), dice.choice([0, 1, 20, 900])
    assert groups(store, events, gap_s) == by_definition(events, gap_s)


def test_ten_thousand_channels_at_once_are_one_incident(store: Store) -> None:
    """All left one machine in the same second: with every pair there would be fifty million links."""
    end = START + timedelta(seconds=5)
    events = [
        {
            "recovery_no": number,
            "channel": f"C{number}",
            "machine": "M1",
            "started_at_utc": START,
            "ended_at_utc": end,
            "settled_at_utc": end,
            "to": None,
        }
        for number in range(10_000)
    ]
    assert groups(store, events, 900) == {frozenset(range(10_000))}
