"""The names of events and of air time in a room small enough to work by hand."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from pipeline.measure.pattern_exposures import air_by_name, events_by_name
from pipeline.model import build_models
from pipeline.store import Store
from tests.model.room_tables import fill_store, open_memory
from tests.second_reader.sites import Room

ZONE = ZoneInfo("Asia/Kathmandu")  # 5 h 45 min ahead all year: 10:00 UTC is 15:45 there
Names = dict[str, dict[str | None, float]]


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"2031-03-09 {text}")


def log(when: str, machine: str, event: str, detail: str | None = None, value: float | None = None) -> dict[str, Any]:
    return {"at": at(when), "machine": machine, "event": event, "value": value, "detail": detail}


def booked(number: int, machine: str, role: str, reel: str | None, start: str, end: str) -> dict[str, Any]:
    return {
        "booking": f"B{number}", "transmission": "TX", "channel": "ONE", "machine": machine, "role": role,
        "reel": reel, "starts": at(start), "ends": at(end),
    }  # fmt: skip


def room(take: str, reason: str, *more: dict[str, Any]) -> Room:
    """An hour on A1 with two reels in turn, A2 behind it with a copy; one take from A1 to A2."""
    ready = [
        row for machine in ("A1", "A2") for row in (log("09:59:00", machine, "roll"), log("09:59:04", machine, "lock"))
    ]
    heads = [
        log("09:00", "A1", "head_fitted", "H1"),
        log("10:20", "A1", "head_fitted", "H2"),
        log("10:50", "A2", "head_fitted", "H2"),
        log("11:30", "A2", "hours", None, 1.0),
    ]
    return Room(
        settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
        events=(*ready, *heads, log("09:59:30", "A1", "offset", "A2", 0.01), *more),
        switches=(
            {"at": at(take), "action": "take", "channel": "ONE", "from_machine": "A1", "to_machine": "A2",
             "reason": reason},
        ),
        bookings=(
            booked(1, "A1", "air", "K1", "10:00", "10:30"),
            booked(2, "A1", "air", "K2", "10:30", "11:00"),
            booked(3, "A2", "protect", "K9", "10:00", "11:00"),
        ),
        machines=({"machine": "A1", "pair": "P1"}, {"machine": "A2", "pair": "P1"}),
    )  # fmt: skip


def named(store: Store, given: Room) -> tuple[Names, dict[str, str | None]]:
    """Seconds of air by kind and name, and the names of the one event."""
    fill_store(store, given)
    for line, (reel, recorder) in enumerate((("K1", "R1"), ("K2", None), ("K9", "R1")), 1):
        store.run(
            "insert into raw_reels (file, line, reel, recorded_on) values ('reels', ?, ?, ?)", [line, reel, recorder]
        )
    build_models(store)
    air: Names = {}
    for row in air_by_name(store, ZONE).iter_rows(named=True):
        air.setdefault(row["kind"], {})[row["name"]] = row["exposure_us"] / 1_000_000
    events = events_by_name(store, ZONE)
    assert events["recovery_no"].unique().to_list() == [1]
    return air, dict(zip(events["kind"], events["name"], strict=True))


def test_an_interruption_and_the_air_around_it(store: Store) -> None:
    """A1 loses its picture at 10:45:00, A2 is taken 12 s later. To be on air: A1 45 min 12 s, A2 14 min 48 s.

    Heads: A1 has H1 until 10:20, then H2; A2 has none that is known until 10:50, when H2 is fitted there.
    H1 20 min = 1,200 s; H2 on A1 25 min 12 s and on A2 10 min = 2,112 s; from 10:45:12 to 10:50 none, 288 s.
    Reels: K1 30 min, K2 15 min 12 s, K9 14 min 48 s. R1 recorded K1 and K9, of K2 no label says. Hours: 15:45 to 16:00
    and 16:00 to 16:45 on the wall.
    """
    air, event = named(store, room("10:45:12", "fault", log("10:45", "A1", "picture_lost")))
    assert air == {
        "machine": {"A1": 2712, "A2": 888},
        "pair": {"A1 and A2": 3600},
        "head serial": {"H1": 1200, "H2": 2112, None: 288},
        "reel": {"K1": 1800, "K2": 912, "K9": 888},
        "recording machine": {"R1": 2688, None: 912},
        "hour of the local day": {"15:00 to 16:00": 900, "16:00 to 17:00": 2700},
    }
    assert event == {
        "machine": "A1", "pair": "A1 and A2", "head serial": "H2", "reel": "K2", "recording machine": None,
        "hour of the local day": "16:00 to 17:00",
    }  # fmt: skip


def test_a_switch_belongs_to_the_reel_that_ran_up_to_it(store: Store) -> None:
    """Taken away as a precaution at 10:30 sharp, when K1 ends and K2 would begin: K2 was never on air."""
    air, event = named(store, room("10:30", "precaution"))
    assert air["reel"] == {"K1": 1800, "K9": 1800}
    assert event["reel"] == "K1"
    assert event["recording machine"] == "R1"
    assert event["head serial"] == "H2"


def test_a_head_that_goes_elsewhere_is_no_longer_here(store: Store) -> None:
    """H2 is fitted in A2 at 10:50 while A1, which had it, goes on to 10:55: five minutes with no head that is known."""
    air, event = named(store, room("10:55", "precaution"))
    # H1 20 min, H2 on A1 30 min and on A2 5 min, none 5 min.
    assert air["head serial"] == {"H1": 1200, "H2": 2100, None: 300}
    assert event["head serial"] is None


def test_standby_has_an_hour_and_no_other_name(store: Store) -> None:
    given = room("10:45:12", "fault", log("10:45", "A1", "picture_lost"))
    away = {**given.switches[0], "at": at("10:44"), "to_machine": "standby", "reason": "planned"}
    back = {**given.switches[0], "at": at("10:44:30"), "from_machine": "standby", "to_machine": "A1", "reason": None}
    given = Room(given.settings, given.events, (away, back, *given.switches), given.bookings, given.machines)
    fill_store(store, given)
    build_models(store)
    air = air_by_name(store, ZONE)
    blank = air.filter(air["name"].is_null())
    # 30 s of standby in every kind but the hour, beside 288 s without a head; no reel has a label here.
    assert {row["kind"]: row["exposure_us"] // 1_000_000 for row in blank.iter_rows(named=True)} == {
        "machine": 30, "pair": 30, "head serial": 318, "reel": 30, "recording machine": 3600,
    }  # fmt: skip
    events = events_by_name(store, ZONE)
    machines = events.filter(events["kind"] == "machine").sort("recovery_no")["name"].to_list()
    assert machines == [None, "A1"]
