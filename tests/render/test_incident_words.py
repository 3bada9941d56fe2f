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
    "take_at_utc": ONSET + timedelta(seconds=8),
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
        "Ticket K-1 suggests the cause: Heads and tape path, clogged (guessed from words: head, cleaned)."
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
    assert "air came back by itself before any take; no protect was there: neither met nor failed." in text
    assert "did not meet" not in text
    assert "taken" not in text.replace("taken for granted", "")


def test_cut_short_is_said() -> None:
    part = PART | {"is_back": False, "is_taken": False, "is_covered_again": False, "covered_again_at_utc": None}
    text = told(part)
    assert "No take came: the window or the data ended 8 s after the onset." in text
    assert "Air did not come back before the window or the data ended, 8 s later." in text
    assert "Air was not covered again before the window or the data ended." in text


def test_standby_tells_the_reason_of_its_take() -> None:
    part = PART | {"machine": None, "is_demand": False, "onset_at_utc": None, "to_take_s": None}
    take = {"at_utc": ONSET, "to_machine": "standby", "reason": "planned"}
    assert "the selector was on standby, taken with the reason planned." in told(part, events=(), takes=(take,))
    assert "the selector was on standby, taken with no reason stated." in told(
        part, events=(), takes=({**take, "reason": None},)
    )


def test_a_take_by_way_of_standby_is_told_as_two() -> None:
    # The selector went to slate 6 s after the onset and to T2 at 20 s: T2 was not taken after 6 s.
    part = PART | {"to_take_s": 6.0, "take_at_utc": ONSET + timedelta(seconds=6)}
    take = {"at_utc": ONSET + timedelta(seconds=6), "channel": "One", "to_machine": "standby", "reason": "fault"}
    assert "Standby was taken 6 s after the onset, and from there T2: a forced switch." in told(part, takes=(take,))
    assert "Standby" not in told(part, takes=({**take, "channel": "Two"},))


def test_what_the_others_logged_while_air_was_lost() -> None:
    part = PART | {"is_met": False}
    other = LOST | {"machine": "T2", "event": "unlock", "at_utc": ONSET + timedelta(seconds=0.4)}
    words = "While air was lost, T2 logged unlock at 20:41:07.40 (± 0.25 s)."
    assert words in told(part, events=(LOST, other))
    assert words not in told(PART, events=(LOST, other))  # protect met the need: nothing to explain
    assert "While air" not in told(part, events=(LOST, other | {"at_utc": ONSET + timedelta(seconds=8)}))


def test_a_change_of_the_clocks_is_said() -> None:
    # Central European clocks go from 02:00 CET to 03:00 CEST on 30 March 2031 at 01:00 UTC (last Sunday of March).
    start = datetime.fromisoformat("2031-03-30 00:59:59")
    part = PART | {"started_at_utc": start, "onset_at_utc": start, "ended_at_utc": start + timedelta(seconds=8)}
    text = told(part | {"covered_again_at_utc": start + timedelta(seconds=8)}, events=())
    assert "30 March 2031 at 01:59:59 CET" in text
    assert "Air was back at 03:00:07 CEST; 8 s of air lost." in text


def test_a_ticket_without_evidence_leaves_the_cause_unknown() -> None:
    part = PART | {"top": "unknown", "second": "not looked at", "grade": "none", "words": ""}
    assert "Ticket K-1 leaves the cause unknown: not looked at." in told(part)


def test_a_ticket_on_the_protect_machine_is_said_to_be_there() -> None:
    around = {"events": [LOST], "spans": [COVERED], "takes": [], "tickets": [{"ticket": "K-1", "machine": "T2"}]}
    assert "Ticket K-1 (on T2, not on T1) suggests the cause: Heads" in " ".join(account(PART, around, LOCAL))


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
    assert "Air was covered before and after the take." in told(part | {"covered_again_at_utc": part["ended_at_utc"]})
    assert "No ticket belongs to it; its cause is unknown." in text
    assert "Protect was needed" not in text


def test_a_rescue_is_no_air_time() -> None:
    text = told(PART | {"recovery_no": None, "ended_at_utc": ONSET + timedelta(seconds=139)})
    assert "another source, not of this room, was taken on channel One in place of T1; it stayed for 2 min 19 s" in text
    assert "a failed demand" in text
