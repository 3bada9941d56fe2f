"""The rest of the room, heads, faults before and the lead-up, from rows made by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.render.incident_room import fault_rows, head_rows, lead_up, room_rows
from pipeline.render.words import Local

LOCAL = Local(ZoneInfo("UTC"))
T0 = datetime.fromisoformat("2031-03-14 19:00:00")
INCIDENT = {"incident": "one", "started_at_utc": T0, "ended_at_utc": T0 + timedelta(seconds=8)}


def row(seconds: float, machine: str, event: str | None, line: int = 2, **more: Any) -> dict[str, Any]:
    at_utc = T0 + timedelta(seconds=seconds)
    base = {"at_utc": at_utc, "machine": machine, "event": event, "detail": None, "value": None, "within_s": 0.1}
    return {**base, "file": f"{machine}.csv", "line": line, **more}


def state(machine: str, word: str) -> dict[str, Any]:
    return {"machine": machine, "state": word, "started_at_utc": T0 - timedelta(hours=1), "ended_at_utc": None}


def doing(last: list[dict[str, Any]], states: list[dict[str, Any]]) -> str:
    around = {"others_last": last, "others_states": states, "booked": [], "others_events": []}
    return str(room_rows(around, INCIDENT, LOCAL, carry_s=14_400.0)[0]["doing"])


def test_what_another_machine_was_doing_is_never_guessed() -> None:
    rolled, heard = row(-600, "T9", "roll", kind="motion"), row(-60, "T9", "lock", kind="word")
    since = "since 2031-03-14 18:50:00 (± 0.10 s)"
    assert doing([rolled, heard], [state("T9", "good")]) == f"rolling {since}, good; last heard from 1 min before"
    assert doing([rolled, heard], [state("T9", "not good")]).startswith(f"rolling {since}, not good")
    assert doing([rolled, heard], [state("T9", "silent")]).startswith("not known: rolled at 2031-03-14 18:50:00")
    # 5 h without a word is more than the carry of 4 h.
    old = row(-18_000, "T9", "roll", kind="motion")
    assert doing([old, old | {"kind": "word"}], [state("T9", "good")]).endswith("last heard from 5 h before")
    assert doing([old, old | {"kind": "word"}], [state("T9", "good")]).startswith("not known")
    stopped = row(-600, "T9", "stop", kind="motion")
    assert doing([stopped, stopped | {"kind": "word"}], []) == f"stopped, {since}"
    nothing = row(0, "T9", None, kind="motion")
    assert doing([nothing, nothing | {"kind": "word"}], []) == "not known: not a word from it before"
    assert doing([nothing, heard], []).startswith("not known: no roll and no stop before")


def test_bookings_and_faults_of_the_others_come_with_their_lines() -> None:
    booking = {
        "machine": "T9", "role": "record_protect", "channel": None, "programme": "Moss", "show": None, "reel": "K1",
        "started_at_utc": T0 - timedelta(hours=1), "ended_at_utc": T0 + timedelta(hours=1), "file": "b.csv", "line": 4,
    }  # fmt: skip
    fault, stop = row(2.5, "T9", "picture_lost", 8), row(3, "T9", "stop", 9)
    around = {
        "others_last": [row(-600, "T9", "roll", 5, kind="motion"), row(-60, "T9", "alive", 6, kind="word")],
        "others_states": [state("T9", "good")],
        "booked": [booking],
        "others_events": [fault, stop],
    }
    told = room_rows(around, INCIDENT, LOCAL, carry_s=14_400.0)[0]
    assert told["booked"] == "record protect: Moss, reel K1"
    assert told["faults"] == "picture lost 2.5 s (± 0.10 s) after it began"
    assert told["lines"] == (("T9.csv", 5), ("b.csv", 4), ("T9.csv", 8))


def test_a_head_is_followed_through_the_machines_it_sat_in() -> None:
    def stay(machine: str, begin_h: float, end_h: float | None, line: int) -> dict[str, Any]:
        until = None if end_h is None else T0 + timedelta(hours=end_h)
        fitted = row(begin_h * 3600, machine, "head_fitted", line, detail="H7")
        return fitted | {"sits_in": "T1", "until_utc": until}

    def part(hours: float, machine: str) -> dict[str, Any]:
        return {"started_at_utc": T0 + timedelta(hours=hours), "machine": machine, "incident": f"{machine}{hours}"}

    stays = [stay("T4", -90, -50, 3), stay("T1", -40, None, 7)]
    # On T4 while it sat there; on T4 after it was taken out; on T1 before and after it was fitted.
    parts = [part(-60, "T4"), part(-45, "T4"), part(-44, "T1"), part(-10, "T1")]
    told = head_rows({"head_stays": stays}, INCIDENT, parts)[0]
    assert (told["machine"], told["serial"], told["count"]) == ("T1", "H7", 2)
    assert [one["incident"] for one in told["latest"]] == ["T1-10", "T4-60"]
    assert told["lines"] == (("T1.csv", 7), ("T4.csv", 3))


def test_faults_before_are_counted_by_machine() -> None:
    rows = [row(-900, "T1", "unlock", 5, faults_count=7), row(-950, "T1", "alarm", 4, faults_count=7, detail="rf")]
    told = fault_rows({"faults_before": rows})[0]
    assert (told["count"], [one["what"] for one in told["latest"]]) == (7, ["unlock", "alarm: rf"])


def test_the_lead_up_tells_faults_and_says_where_all_was_routine() -> None:
    early = row(-700, "T1", "alarm", 2)
    around = {
        "machines": [{"machine": "T1"}, {"machine": "T2"}, {"machine": "T3"}],
        "offsets": [{"file": "T2.csv", "line": 6, "is_within": False}],
        "events": [early, row(-90, "T1", "alarm", 3, detail="rf"), row(-60, "T2", "offset", 6, value=0.12),
                   row(-50, "T2", "lineup", 7), row(-40, "T3", "lineup", 8), row(-30, "T3", "hours", 9)],
    }  # fmt: skip
    told = lead_up(around, INCIDENT, LOCAL, lead_s=600.0)
    assert [one.text for one in told] == [
        "In the 10 min before it T1 logged alarm: rf at 18:58:30 (± 0.10 s).",
        "In the 10 min before it T2 logged offset +120 ms at 18:59:00 (± 0.10 s).",
        "In the 10 min before it T3 logged 1 line, none of them a fault.",
    ]
    assert told[0].lines == (("T1.csv", 3),)
