"""An incident's page: what it shares with earlier ones, air between rescues, and what stays open."""

from __future__ import annotations

import itertools
from typing import Any

from pipeline.render.incident_strip import strips
from pipeline.render.incidents import air_table, at_once, history, history_index, incident_sheets
from pipeline.render.reading import Reading
from tests.render.small_room import at


def part(key: str, day: str, machine: str, reel: str | None = None) -> dict[str, Any]:
    return {
        "event_key": key,
        "incident": key,
        "started_at_utc": at(f"{day} 20:00:00"),
        "machine": machine,
        "reel": reel,
        "recorded_on": None,
    }


def test_history_looks_back_and_not_ahead() -> None:
    parts = [part("a", "02-01", "T1", "K1"), part("b", "02-05", "T2", "K1"), part("c", "02-09", "T1")]
    shared = history_index(parts)
    rows = {(row["what"], row["name"]): row["latest"] for row in history([parts[1]], shared)}
    assert rows == {("transport left", "T2"): [], ("reel", "K1"): [parts[0]]}
    assert history([parts[2]], shared)[0]["latest"] == [parts[0]]


def test_the_rooms_incidents_are_told_apart(reading: Reading) -> None:
    # On 10 February, 3 and 9 March: days apart, so none lies within a quarter of an hour of another.
    assert [at_once(reading, place) for place in range(3)] == [[], [], []]
    sheets = list(incident_sheets(reading))
    assert [sheet.title for sheet in sheets] == [
        "10 February 2031, 20:19:58: channel One",
        "3 March 2031, 19:40:00: channel One",
        "9 March 2031, 21:10:00: channel Two",
    ]


def test_air_around_it_adds_up(reading: Reading) -> None:
    incident = reading.incidents[2]
    rows = air_table(reading, incident)
    # 10 min good, 8 s unlocked, 40 s standby, then good to the end; nothing booked behind it.
    assert [(row["feed"], row["state"]) for row in rows] == [
        ("T3", "exposed"),
        ("T3", "lost"),
        ("standby", "lost"),
        ("T3", "exposed"),
    ]
    assert all(first["ended_at_utc"] == second["started_at_utc"] for first, second in itertools.pairwise(rows))


def test_the_strip_says_what_it_shows(reading: Reading) -> None:
    incident = reading.incidents[0]
    parts = [row for row in reading.parts if row["incident"] == incident["incident"]]
    close, wide = strips(reading, incident, "One", parts)
    # The lead of 600 s on both sides of 20:19:58 to 20:20:12.
    # T1 lost the picture when its clock, 2 s fast, said 20:20:00, and had it back when it said 20:30:00.
    assert wide["says"].startswith(
        "Channel One, 20:09:58 to 20:30:12. Moments: air lost 20:19:58; air back 20:20:12; covered again 20:29:58. "
        "Selector: T1 from 20:09:58; T2 from 20:20:12. Air: covered from 20:09:58 to 20:19:58; lost from 20:19:58 to "
        "20:20:12; exposed, protect not good from 20:20:12 to 20:29:58; covered from 20:29:58 to"
    )
    assert "T1, booked for air: good from 20:09:58; rolling and not good from 20:19:58; good from" in wide["says"]
    assert "T2, booked as protect: good from 20:09:58." in wide["says"]
    assert "lost from 20:19:58 to 20:20:12" in close["says"]
    assert [lane.name for lane in close["strip"].lanes[:3]] == ["T1", "air, channel One", "T2"]


def test_machines_without_a_clock_are_named(reading: Reading) -> None:
    sheet = next(incident_sheets(reading))
    assert "How the clock of T2 stands to the house clock: its times have no ±." in sheet.not_known
