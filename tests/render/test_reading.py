"""One incident read alone is what it is among all; a stretch of time holds what touches it; nothing else is read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.errors import StoreError
from pipeline.measure import measure_site
from pipeline.render.reading import Reading, read_site, read_window
from pipeline.render.shown import Window
from pipeline.store import Store
from tests.render.small_room import HOSTILE_MACHINE, SETTINGS, at, open_room

NAMES = ("shown_incidents", "shown_channels", "shown_machines", "shown_parts")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small room as a file that a run has left."""
    path = tmp_path_factory.mktemp("room") / "room.duckdb"
    with open_room(path) as store:
        measure_site(store, SETTINGS)
    return path


@pytest.fixture
def store(room: Path) -> Iterator[Store]:
    with Store(room, read_only=True) as opened:
        yield opened


def window_of(reading: Reading, place: int) -> Window:
    one = reading.incidents[place]
    return Window(one["incident"], one["channel"], one["started_at_utc"], one["ended_at_utc"])


def stretch(channel: str, begins: str, ends: str) -> Window:
    return Window("window-x", channel, at(begins), at(ends))


def read(store: Store, reading: Reading, window: Window) -> Reading:
    return read_window(store, SETTINGS, reading.figures, window)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_an_incident_alone_is_what_it_is_among_all(store: Store, reading: Reading, place: int) -> None:
    among_all = read_site(store, SETTINGS, reading.figures)
    window = window_of(among_all, place)
    alone = read(store, reading, window)
    assert window.is_incident
    assert alone.around_of(window.name) == among_all.around_of(window.name)
    assert alone.shown == {window.name: among_all.shown[window.name]}
    assert (alone.incidents, alone.parts, alone.checks) == (among_all.incidents, among_all.parts, among_all.checks)


def test_nothing_of_another_incident_is_read(store: Store, reading: Reading) -> None:
    window = window_of(reading, 0)
    alone = read(store, reading, window)
    assert {name for grouped in alone.around.values() for name in grouped} == {window.name}
    # T1 and T2 are booked in February, and T2 just rolls on; T3 and its pair play on the other channel weeks later.
    assert {row["machine"] for row in alone.of_incident("machines", window.name)} == {"T1", "T2"}
    assert {row["machine"] for row in alone.of_incident("events", window.name)} == {"T1"}
    assert alone.site == {}


def test_all_incidents_are_shown_with_their_parts(store: Store, reading: Reading) -> None:
    """As the scenario has them: two on One with T1 and T2, one on Two with T3 and standby, which is no machine."""
    read_site(store, SETTINGS, reading.figures)
    incidents, channels, machines, parts = (store.read(f"select * from {name}") for name in NAMES)
    assert incidents.height == 3
    assert sorted(channels["channel"].to_list()) == ["One", "One", "Two"]
    assert sorted(machines["machine"].to_list()) == ["T1", "T1", "T2", "T2", "T3"]
    assert parts["incident"].n_unique() == 3


def test_a_stretch_holds_what_touches_it_on_its_channel(store: Store, reading: Reading) -> None:
    # Two lost air from 20:10:00 to 20:10:48: 8 s unlocked and 40 s on standby.
    alone = read(store, reading, stretch("Two", "03-09 20:10:30", "03-09 20:11:00"))
    (part,) = alone.shown["window-x"]
    row = next(one for one in alone.incidents if one["incident"] == "window-x")
    assert (part["machine"], part["lost_s"]) == ("T3", 48.0)
    assert (row["lost_s"], row["machines"], row["parts_count"]) == (48.0, "T3", 1)
    assert alone.incidents == sorted(alone.incidents, key=lambda one: one["started_at_utc"])
    assert len(alone.incidents) == len(reading.incidents) + 1
    (ticket,) = alone.of_incident("tickets", "window-x") or [None]
    assert ticket is None  # T3's ticket was opened six days later, and belongs to nothing


@pytest.mark.parametrize(
    ("begins", "ends", "parts"),
    [
        ("03-09 20:09:00", "03-09 20:10:00", 0),  # ends as the loss begins
        ("03-09 20:09:00", "03-09 20:10:01", 1),
        ("03-09 20:10:48", "03-09 20:11:00", 1),  # begins as air is back: that moment is in it
        ("03-09 20:10:49", "03-09 20:11:00", 0),
    ],
)
def test_a_stretch_holds_its_first_instant_and_not_its_last(
    store: Store, reading: Reading, begins: str, ends: str, parts: int
) -> None:
    assert len(read(store, reading, stretch("Two", begins, ends)).shown["window-x"]) == parts


def test_a_stretch_without_an_event_still_has_its_machines_and_its_air(store: Store, reading: Reading) -> None:
    alone = read(store, reading, stretch("Two", "02-11 19:10:00", "02-11 19:11:00"))
    assert alone.shown == {"window-x": []}
    assert [row["machine"] for row in alone.of_incident("machines", "window-x")] == ["T3", HOSTILE_MACHINE]
    assert [row["state"] for row in alone.of_incident("spans", "window-x")] == ["covered"]
    row = next(one for one in alone.incidents if one["incident"] == "window-x")
    assert (row["lost_s"], row["machines"], row["interruptions_count"]) == (0.0, None, 0)


def test_another_channel_at_the_same_time_has_nothing(store: Store, reading: Reading) -> None:
    alone = read(store, reading, stretch("One", "03-09 20:10:00", "03-09 20:11:00"))
    assert alone.shown == {"window-x": []}
    assert not alone.of_incident("spans", "window-x")
    assert not alone.of_incident("machines", "window-x")


def test_the_tables_are_gone_with_the_reading_and_the_database_is_as_it_was(room: Path, reading: Reading) -> None:
    before = room.read_bytes()
    with Store(room, read_only=True) as store:
        read(store, reading, window_of(reading, 0))
    with Store(room, read_only=True) as store, pytest.raises(Exception, match="shown_incidents") as told:
        store.read("select * from shown_incidents")
    assert not isinstance(told.value, StoreError)
    assert room.read_bytes() == before
