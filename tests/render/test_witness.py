"""What proves a state: a machine's last words, the selector's last take, and who stood behind air, made by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from pipeline.render.witness import Witness

T0 = datetime.fromisoformat("2031-03-14 19:00:00")


def t(seconds: float) -> datetime:
    return T0 + timedelta(seconds=seconds)


def said(seconds: float, machine: str, event: str, line: int, **more: Any) -> dict[str, Any]:
    return {"at_utc": t(seconds), "machine": machine, "event": event, "file": "e.csv", "line": line, **more}


def lines(rows: Any) -> list[int]:
    return [row["line"] for row in rows]


def test_the_last_word_of_each_kind_stands_also_from_before_the_window() -> None:
    witness = Witness(
        {
            "standing": [said(-900, "T1", "roll", 2), said(-890, "T1", "lock", 3), said(-950, "T1", "sound_back", 1)],
            "events": [said(10, "T1", "unlock", 4), said(20, "T1", "lock", 5)],
        }
    )
    assert lines(witness.words("T1", t(0)).values()) == [2, 3]  # sound back of an earlier run says nothing of this one
    assert witness.words("T1", t(20))["lock"]["line"] == 5
    assert witness.words("T1", t(20), is_before=True)["lock"]["line"] == 4


def test_what_makes_a_machine_not_good_is_its_stop_its_losses_or_a_roll_without_a_lock() -> None:
    roll, lock = said(-30, "T1", "roll", 2), said(-20, "T1", "lock", 3)
    assert lines(Witness({"events": [roll, lock, said(0, "T1", "stop", 4)]}).bad_words("T1", t(1))) == [4]
    lost = [said(0, "T1", "picture_lost", 4), said(1, "T1", "sound_lost", 5)]
    assert lines(Witness({"events": [roll, lock, *lost]}).bad_words("T1", t(2))) == [4, 5]
    assert lines(Witness({"events": [roll]}).bad_words("T1", t(2))) == [2]
    assert lines(Witness({"events": [roll, lock]}).bad_words("T1", t(2))) == []


def test_the_selector_stands_where_its_last_take_put_it() -> None:
    takes = [
        {"channel": "One", "at_utc": t(5), "to_machine": "T2", "action": "take", "file": "s.csv", "line": 9},
        {"channel": "Two", "at_utc": t(6), "to_machine": "T4", "action": "take", "file": "s.csv", "line": 10},
        {"channel": "One", "at_utc": t(7), "to_machine": "T1", "action": "start", "file": "s.csv", "line": 11},
    ]
    old = {"channel": "One", "at_utc": t(-700), "to_machine": "T1", "action": "take", "file": "s.csv", "line": 2}
    witness = Witness({"takes": takes, "last_takes": [old]})
    assert witness.selector("One", t(8)) == takes[0]
    assert witness.selector("One", t(5), is_before=True) == old
    assert witness.on_air("One", "T2", t(8)) == [takes[0]]
    assert witness.on_air("One", "T1", t(8)) == []  # neither the last take nor a booking says so


def test_a_cover_is_good_and_in_step_and_brings_its_offset() -> None:
    state = {"machine": "T2", "state": "good", "started_at_utc": t(-20), "ended_at_utc": None}
    pair = {"machine_a": "T1", "machine_b": "T2", "started_at_utc": t(-10), "ended_at_utc": t(30), "is_in_step": True}
    offset = said(-10, "T2", "offset", 7, value=0.012, partner="T1", is_within=True)
    around = {"states": [state], "pair_states": [pair], "standing": [offset, said(-30, "T2", "roll", 5)]}
    cover = next(Witness(around).covers("T1", t(30), is_before=True))
    assert (cover.machine, cover.offset, lines(cover.rows)) == ("T2", offset, [7, 5])
    assert not list(Witness(around).covers("T1", t(30)))  # the two are in step until just before
    assert not list(Witness(around | {"pair_states": [pair | {"is_in_step": None}]}).covers("T1", t(0)))
    assert not list(Witness(around | {"states": [state | {"state": "not good"}]}).covers("T1", t(0)))
