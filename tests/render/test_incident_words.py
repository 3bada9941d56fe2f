"""The account of an incident against facts made by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.render.incident_words import account
from pipeline.render.sentences import Sentence
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
LOST = {
    "machine": "T1",
    "event": "picture_lost",
    "detail": None,
    "at_utc": ONSET,
    "within_s": 0.25,
    "file": "t1.csv",
    "line": 9,
}
ALARM = LOST | {"event": "alarm", "detail": "rf low", "at_utc": ONSET - timedelta(seconds=3), "line": 8}
COVERED = {"channel": "One", "ended_at_utc": ONSET, "state": "covered", "exposed_why": None}
# The stamp of the house clock is written to the second: 20:41:15, so ± 1 s.
TAKE = {
    "channel": "One",
    "action": "take",
    "at_utc": ONSET + timedelta(seconds=8),
    "at_text": "2031-03-14 20:41:15",
    "from_machine": "T1",
    "to_machine": "T2",
    "reason": "fault",
    "file": "switches.csv",
    "line": 4,
}


def sentences(
    part: dict[str, Any],
    *,
    events: tuple[Any, ...] = (LOST,),
    spans: tuple[Any, ...] = (COVERED,),
    takes: tuple[Any, ...] = (TAKE,),
    **more: list[Any],
) -> list[Sentence]:
    return account(part, {"events": list(events), "spans": list(spans), "takes": list(takes), **more}, LOCAL)


def told(part: dict[str, Any], **around: Any) -> str:
    return " ".join(sentence.text for sentence in sentences(part, **around))


def test_an_interruption_that_protect_met() -> None:
    back = LOST | {"event": "picture_back", "at_utc": PART["covered_again_at_utc"], "line": 11, "event_key": "r1"}
    # Onset ± 0.25 s by T1's clock, take ± 1 s by its stamp: 1.25 s, which is exact in binary and rounds to even, 1.2.
    assert told(PART | {"event_key": "r1"}, events=(ALARM, LOST), again=[back]) == (
        "The first sign in the window was on T1, alarm: rf low, at 20:41:04 (± 0.25 s), 3 s before. "
        "14 March 2031 at 20:41:07 CET (± 0.25 s): air on channel One was lost; T1, on air, logged picture lost. "
        "Air had been covered until then. "
        "T2 was taken at 20:41:15 (± 1 s), 8 s (± 1.2 s) after the onset, a forced switch. "
        "Air was back at 20:41:15 (± 1 s); 8 s of air lost (± 1.2 s). "
        "Air was covered again at 20:44:27 (± 0.25 s), 3 min 20 s after the onset. "
        "Protect was needed and met the need. "
        "No line and no ticket says when T1 was good again. "
        "Ticket K-1 suggests the cause: Heads and tape path, clogged (guessed from words: head, cleaned). "
        "By that it lies on the play side, with T1."
    )


def test_a_sentence_brings_the_lines_that_prove_it() -> None:
    proofs = {sentence.text[:14]: sentence.lines for sentence in sentences(PART, events=(ALARM, LOST))}
    assert proofs["The first sign"] == (("t1.csv", 8), ("t1.csv", 9))
    assert proofs["T2 was taken a"] == (("switches.csv", 4), ("t1.csv", 9))
    assert proofs["Air was back a"] == (("switches.csv", 4), ("t1.csv", 9))


def test_a_ruled_switch_and_a_ruled_cause_say_what_the_program_found() -> None:
    ruled = {"event_key": "r1", "ruling": "R-1", "why": "desk log", "decided_at_utc": ONSET, "file": "rulings.csv"}
    part = PART | {"event_key": "r1", "switch_ruling": "R-1", "found_kind": "unexplained", "cause_ruling": "R-2"}
    part |= {"found_top": "servo and time base", "found_second": "drum", "found_grade": "stated"}
    around = {"ruled": [ruled | {"line": 2}, ruled | {"ruling": "R-2", "why": None, "line": 3}]}
    found = {sentence.text: sentence.lines for sentence in sentences(part, **around)}
    decided = "decided 2031-03-14 20:41:07"
    switch = f"It was ruled to be a forced switch (ruling R-1, {decided}: desk log); the program found a switch that "
    assert found[f"{switch}nothing explains."] == (("rulings.csv", 2),)
    cause = f"The cause was ruled to be Heads and tape path, clogged (ruling R-2, {decided}); the program found "
    assert found[f"{cause}Servo and time base, drum (stated)."] == (("rulings.csv", 3),)
    assert "ruled" not in told(PART)


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
        "take_at_utc": None,
        "is_taken": False,
        "to_machine": None,
    }
    text = told(part)
    assert "air came back by itself before any take; no protect was there: neither met nor failed." in text
    assert "did not meet" not in text
    assert "was taken" not in text


def test_cut_short_is_said() -> None:
    part = PART | {"is_back": False, "is_taken": False, "is_covered_again": False, "covered_again_at_utc": None}
    text = told(part)
    assert "No take came: the window or the data ended 8 s after the onset." in text
    assert "Air did not come back before the window or the data ended, 8 s later." in text
    assert "Air was not covered again before the window or the data ended." in text


def test_standby_tells_the_reason_of_its_take() -> None:
    part = PART | {"machine": None, "is_demand": False, "onset_at_utc": None, "to_take_s": None}
    take = TAKE | {"at_utc": ONSET, "to_machine": "standby", "reason": "planned"}
    assert "the selector was on standby, taken with the reason planned." in told(part, events=(), takes=(take,))
    assert "the selector was on standby, taken with no reason stated." in told(
        part, events=(), takes=({**take, "reason": None},)
    )


def test_a_take_by_way_of_standby_is_told_as_two() -> None:
    # The selector went to slate 6 s after the onset and to T2 at 20 s: T2 was not taken after 6 s.
    part = PART | {"to_take_s": 6.0, "take_at_utc": ONSET + timedelta(seconds=6)}
    take = TAKE | {"at_utc": ONSET + timedelta(seconds=6), "to_machine": "standby", "at_text": "20:41:13.0"}
    assert (
        "Standby was taken at 20:41:13 (± 0.10 s), 6 s (± 0.35 s) after the onset, and from there T2: a forced switch."
    ) in told(part, takes=(take,))
    assert "Standby" not in told(part, takes=({**take, "channel": "Two"},))


def test_what_the_others_logged_while_air_was_lost() -> None:
    part = PART | {"is_met": False}
    other = LOST | {"machine": "T2", "event": "unlock", "at_utc": ONSET + timedelta(seconds=6.4)}
    words = "While air was lost, T2 logged unlock at 20:41:13.40 (± 0.25 s)."
    assert words in told(part, events=(LOST, other))
    assert words not in told(PART, events=(LOST, other))  # protect met the need: nothing to explain
    assert "While air" not in told(part, events=(LOST, other | {"at_utc": ONSET + timedelta(seconds=8)}))


def test_a_change_of_the_clocks_is_said() -> None:
    # Central European clocks go from 02:00 CET to 03:00 CEST on 30 March 2031 at 01:00 UTC (last Sunday of March).
    start = datetime.fromisoformat("2031-03-30 00:59:59")
    part = PART | {"started_at_utc": start, "onset_at_utc": start, "ended_at_utc": start + timedelta(seconds=8)}
    text = told(part | {"covered_again_at_utc": start + timedelta(seconds=8)}, events=())
    assert "30 March 2031 at 01:59:59 CET" in text
    assert "Air was back at 03:00:07 CEST (± not known); 8 s of air lost" in text


def test_a_ticket_without_evidence_leaves_the_cause_unknown() -> None:
    part = PART | {"top": "unknown", "second": "not looked at", "grade": "none", "words": ""}
    assert "Ticket K-1 leaves the cause unknown: not looked at." in told(part)


def test_a_ticket_on_the_protect_machine_is_said_to_be_there() -> None:
    tickets = [{"ticket": "K-1", "machine": "T2", "file": "tickets.csv", "line": 5}]
    text = told(PART, tickets=tickets)
    assert "Ticket K-1 (on T2, not on T1) suggests the cause: Heads" in text
    assert "By that it lies on the play side, with T2." in text


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
