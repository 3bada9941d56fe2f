"""What stood behind air, from rows made by hand: covered by whom, and why not."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.render.test_incident_words import COVERED, LOST, ONSET, PART, sentences, told

HOUR = timedelta(hours=1)
OFFSET = LOST | {"machine": "T2", "event": "offset", "value": 0.012, "partner": "T1", "line": 5}
OFFSET |= {"at_utc": ONSET - timedelta(seconds=60)}


def booking(machine: str, role: str, line: int) -> dict[str, Any]:
    span = {"started_at_utc": ONSET - HOUR, "ended_at_utc": ONSET + HOUR, "file": "bookings.csv", "line": line}
    return {"machine": machine, "role": role, "channel": "One", "reel": None, **span}


BOOKED = [booking("T1", "air", 2), booking("T2", "protect", 3)]


def test_covered_names_the_machine_its_last_offset_and_the_lines() -> None:
    pair = {"machine_a": "T1", "machine_b": "T2", "started_at_utc": ONSET - HOUR, "ended_at_utc": ONSET}
    state = {"machine": "T2", "state": "good", "started_at_utc": ONSET - HOUR, "ended_at_utc": None}
    around = {"states": [state], "pair_states": [pair | {"is_in_step": True}], "standing": [OFFSET]}
    found = {sentence.text: sentence.lines for sentence in sentences(PART, **around)}
    words = "T2 was good, and the last offset between it and T1 was +12 ms, at 20:40:07 (± 0.25 s)"
    assert found[f"Air had been covered until then: {words}."] == (("t1.csv", 5),)


def test_exposed_says_what_protect_was_doing() -> None:
    unlock = LOST | {"machine": "T2", "event": "unlock", "at_utc": ONSET - timedelta(seconds=120), "line": 6}
    span = COVERED | {"state": "exposed", "exposed_why": "not good", "feed": "T1"}
    text = told(PART, spans=(span,), events=(unlock, LOST), booked=BOOKED)
    assert "protect was not good (T2: unlock at 20:39:07 (± 0.25 s))." in text


def test_out_of_step_says_by_how_much() -> None:
    span = COVERED | {"state": "exposed", "exposed_why": "out of step", "feed": "T1"}
    text = told(PART, spans=(span,), standing=[OFFSET | {"value": -0.12}], booked=BOOKED)
    assert "(the last offset between T2 and T1 was −120 ms, at 20:40:07 (± 0.25 s))." in text


def test_none_booked_rests_on_the_only_booking() -> None:
    span = COVERED | {"state": "exposed", "exposed_why": "none booked", "feed": "T1"}
    found = {sentence.text: sentence.lines for sentence in sentences(PART, spans=(span,), booked=BOOKED[:1])}
    assert found["Air had been exposed until then: no protect was booked."] == (("bookings.csv", 2),)


def test_air_that_was_not_covered_before_tells_from_when_it_was() -> None:
    part = PART | {"was_covered": False, "to_cover_s": None, "event_key": "r1"}
    back = LOST | {"event": "lock", "at_utc": PART["covered_again_at_utc"], "line": 12, "event_key": "r1"}
    assert "Air was covered from 20:44:27 (± 0.25 s) on." in told(part, again=[back])


def test_air_that_came_back_after_a_take_did_not_come_before_any() -> None:
    part = PART | {"is_met": False, "is_healed": True}
    assert "no take brought air back, it came by itself: neither met nor failed." in told(part)
