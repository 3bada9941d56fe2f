"""What must hold in any room: order, splitting and repeats change no figure; a lost log only adds doubt."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, assume, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from pipeline.ingest import load_site
from pipeline.measure import measure_site
from pipeline.model import build_models
from pipeline.settings import read_settings
from pipeline.store import Store
from tests.model.room_tables import build_for, fill_store, open_memory
from tests.second_reader.rooms import nasty_rooms
from tests.second_reader.sites import Room, write_site
from tests.second_reader.working_rooms import working_rooms

ROOMS = working_rooms() | nasty_rooms()
DOUBT = {"unknown", "unproved"}


def many(count: int) -> examples:
    """Settings without shrinking: the rooms are small, and the failing figure is named."""
    return examples(
        max_examples=count,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def figures_of(site: Path) -> dict[str, Any]:
    """The figures of a site folder, without the account of its files."""
    settings = read_settings(site)
    with open_memory() as store:
        load_site(site, settings, store)
        build_models(store)
        document = measure_site(store, settings)
    return {name: part for name, part in document.items() if name not in {"files", "rows"}}


@pytest.mark.slow
@many(10)
@given(room=ROOMS, seed=st.integers(0, 1000), split=st.integers(1, 3), repeats=st.integers(0, 5))
def test_shuffled_split_and_repeated_lines_change_no_figure(
    tmp_path_factory: pytest.TempPathFactory, room: Room, seed: int, split: int, repeats: int
) -> None:
    assume(room.events and room.bookings)
    folder = tmp_path_factory.mktemp("property")
    plain = figures_of(write_site(room, folder / "plain"))
    mixed = figures_of(write_site(room, folder / "mixed", Random(seed), split=split, repeats=repeats))
    assert mixed == plain


def spans_of(store: Store, room: Room) -> tuple[datetime | None, list[dict[str, Any]]]:
    """Data-as-of and the spans of air of a room."""
    fill_store(store, room)
    build_for(store, ("core_air_spans", "core_as_of", "core_pieces", "core_settings"))
    spans = store.read("select channel, started_at_utc, ended_at_utc, state from core_air_spans order by all")
    return store.value("select as_of_at_utc from core_as_of"), spans.to_dicts()


def state_at(spans: list[dict[str, Any]], channel: str, at: datetime) -> str | None:
    """The state of a channel's air at an instant, None outside air time."""
    return next(
        (
            span["state"]
            for span in spans
            if span["channel"] == channel and span["started_at_utc"] <= at < span["ended_at_utc"]
        ),
        None,
    )


def in_a_tail(store: Store, channel: str, at: datetime) -> bool:
    """Whether an instant lies in the tail of a piece."""
    found = store.value(
        "select count(*) from core_pieces cross join core_settings where channel = ? and ended_at_utc > ?"
        " and ended_at_utc - tail_time <= ?",
        [channel, at, at],
    )
    return bool(found)


def hold_without_a_log(store: Store, room: Room, machine: str) -> None:
    """Every instant keeps its state or falls into doubt.

    One case apart: lost air that a planned standby goes on with may, once nothing is known before it, begin with that
    standby in the tail, and then it is an early end by the letter of the rule and no air time any more.
    """
    as_of, before = spans_of(store, room)
    silent = dataclasses.replace(room, events=tuple(row for row in room.events if row["machine"] != machine))
    as_of_without, after = spans_of(store, silent)
    assume(as_of == as_of_without)
    edges = {(span["channel"], span["started_at_utc"]) for span in (*before, *after)}
    for channel, at in edges:
        was, is_now = state_at(before, channel, at), state_at(after, channel, at)
        ended_early = was == "lost" and is_now is None and in_a_tail(store, channel, at)
        assert is_now == was or is_now in DOUBT or ended_early, (channel, at, was, is_now)


@pytest.mark.slow
@many(40)
@given(room=ROOMS, place=st.integers(0, 4))
def test_a_lost_log_moves_seconds_only_into_doubt(store: Store, room: Room, place: int) -> None:
    machines = sorted({row["machine"] for row in room.bookings})
    assume(machines)
    hold_without_a_log(store, room, machines[place % len(machines)])
