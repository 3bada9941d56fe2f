"""The account of an incident against facts made by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.render.incident_words import account
from pipeline.render.words import Local

LOCAL = Local(ZoneInfo("Europe/Stockholm"))
ONSET = datetime.fromisoformat("2031-03-14 19:41:07")
PART: dict[str, Any] = {
    "recovery_no": 1,
    "interruption_no": 1,
    "switch_no": 1,
    "channel": "One",
    "machine": "T1",
    "to_machine": "T2",
    "started_at_utc": ONSET,
    "ended_at_utc": ONSET + timedelta(seconds=8),
    "onset_at_utc": ONSET,
    "covered_again_at_utc": ONSET + timedelta(seconds=200),
    "was_covered": True,
    "to_take_s": 8.0,
    "is_taken": True,
    "to_air_s": 8.0,
    "is_back": True,
    "to_cover_s": 200.0,
    "is_covered_again": True,
    "lost_s": 8.0,
    "is_demand": True,
    "is_met": True,
    "is_healed": False,
    "is_unprotected": False,
    "kind": "forced",
    "reason": "fault",
    "ticket": "K-1",
    "top": "heads and tape path",
    "second": "clogged",
    "grade": "guessed from words",
    "words": "head, cleaned",
}
LOST = {"machine": "T1", "event": "picture_lost", "detail": None, "at_utc": ONSET, "within_s": 0.25}
ALARM = {
    "machine": "T1",
    "event": "alarm",
    "detail": "rf low",
    "at_utc": ONSET - timedelta(seconds=3),
    "within_s": 0.25,
}
COVERED = {"channel": "One", "ended_at_utc": ONSET, "state": "covered", "exposed_why": None}


def told(
    part: dict[str, Any],
    *,
    events: tuple[Any, ...] = (LOST,),
    spans: tuple[Any, ...] = (COVERED,),
    takes: tuple[Any, ...] = (),
) -> str:
    return " ".join(account(part, {"events": list(events), "spans": list(spans), "takes": list(takes)}, LOCAL))


def test_an_interruption_that_protect_met() -> None:
    assert told(PART, events=(ALARM, LOST)) == (
        "The first sign in the window was on T1, alarm: rf low, at 20:41:04 (± 0.25 s), 3 s before. "
        "14 March 2031 at 20:41:07 CET: air on channel One was lost; T1, on air, logged picture lost (± 0.25 s). "
        "Air had been covered until then. T2 was taken 8 s after the onset, a forced switch. "
        "Air was back at 20:41:15; 8 s of air lost. Air was covered again at 20:44:27, 3 min 20 s after the onset. "
        "Protect was needed and met the need. "
        "Ticket K-1 gives the cause: Heads and tape path, clogged (guessed from words: head, cleaned)."
    )


def test_what_was_not_covered_says_why() -> None:
    exposed = {**COVERED, "state": "exposed", "exposed_why": "out of step"}
    assert "Air had been exposed until then: protect was out of step." in told(PART, spans=(exposed,))
    assert "No air of this room came just before it" in told(PART, spans=())


def test_healed_and_unprotected_are_not_called_met() -> None:
    part = PART | {
        "is_met": False,
        "is_healed": True,
        "is_unprotected": True,
        "to_take_s": None,
        "is_taken": False,
        "to_machine": None,
    }
    text = told(part)
    assert "did not meet the need: air came back by itself, with no take and no protect was there." in text
    assert "taken" not in text.replace("taken for granted", "")


def test_cut_short_is_said() -> None:
    part = PART | {"is_back": False, "is_taken": False, "is_covered_again": False, "covered_again_at_utc": None}
    text = told(part)
    assert "It was never taken away: the window ended 8 s after the onset." in text
    assert "Air did not come back before the window or the data ended, 8 s later." in text
    assert "Air was not covered again before the window ended." in text


def test_standby_tells_the_reason_of_its_take() -> None:
    part = PART | {"machine": None, "is_demand": False, "onset_at_utc": None, "to_take_s": None}
    take = {"at_utc": ONSET, "to_machine": "standby", "reason": "planned"}
    assert "the selector was on standby, taken with the reason planned." in told(part, events=(), takes=(take,))
    assert "the selector was on standby, taken with no reason stated." in told(
        part, events=(), takes=({**take, "reason": None},)
    )


def test_a_switch_without_loss() -> None:
    part = PART | {
        "interruption_no": None,
        "kind": "precaution",
        "reason": "precaution",
        "onset_at_utc": None,
        "to_take_s": None,
        "to_cover_s": None,
        "is_demand": None,
        "ticket": None,
    }
    text = told(part, events=())
    assert "T2 was taken in place of T1, a switch made as a precaution; the stated reason is precaution." in text
    assert "it has no onset" in text
    assert "No ticket belongs to it; its cause is unknown." in text
    assert "Protect was needed" not in text


def test_a_rescue_is_no_air_time() -> None:
    text = told(PART | {"recovery_no": None, "ended_at_utc": ONSET + timedelta(seconds=139)})
    assert "another source, not of this room, was taken on channel One after T1; it stayed for 2 min 19 s" in text
    assert "a failed demand" in text
