"""The lines behind an incident: their order, and what is said where the order cannot be known."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from pipeline.render.lines import event_line, line_numbers, order_lines

T0 = datetime.fromisoformat("2031-03-01 20:00:00")


def event(seconds: float, machine: str, within_s: float | None, line: int, word: str = "unlock") -> dict[str, Any]:
    return {
        "at_utc": T0 + timedelta(seconds=seconds),
        "at_text": f"raw {line}",
        "within_s": within_s,
        "machine": machine,
        "event": word,
        "value": None,
        "detail": None,
        "file": "events.csv",
        "line": line,
    }


def take(seconds: float, line: int) -> dict[str, Any]:
    return {
        "at_utc": T0 + timedelta(seconds=seconds),
        "at_text": f"raw {line}",
        "channel": "One",
        "action": "take",
        "from_machine": "T1",
        "to_machine": "T2",
        "reason": None,
        "file": "switches.csv",
        "line": line,
    }


def test_order_is_not_known_within_the_joint_margin() -> None:
    # T1 ± 0.3 s and T2 ± 0.2 s: 0.4 s apart is less than 0.5 s. Against the house clock 0.4 s is more than 0.3 s.
    rows, left_out = order_lines([event(0, "T1", 0.3, 2), event(0.4, "T2", 0.2, 3)], [], [], around=T0, most=10)
    assert [row["is_order_unknown"] for row in rows] == [False, True]
    rows, _ = order_lines([event(0, "T1", 0.3, 2)], [take(0.4, 9)], [], around=T0, most=10)
    assert [row["is_order_unknown"] for row in rows] == [False, False]
    assert left_out == 0


def test_one_clock_knows_its_own_order() -> None:
    rows, _ = order_lines([event(0, "T1", 5.0, 2), event(0.1, "T1", 5.0, 3)], [], [], around=T0, most=10)
    assert not any(row["is_order_unknown"] for row in rows)


def test_the_nearest_are_kept_and_the_rest_counted() -> None:
    rows, left_out = order_lines(
        [event(second, "T1", 0.1, second + 2) for second in range(9)], [], [], around=T0, most=3
    )
    assert [row["line"] for row in rows] == [2, 3, 4]
    assert left_out == 6


def test_lines_that_say_nothing_are_not_listed_and_stamps_stand_as_written() -> None:
    rows, _ = order_lines([event(0, "T1", 0.1, 2, "alive")], [take(1, 9)], [], around=T0, most=9)
    assert [(row["stamp"], row["what"]) for row in rows] == [("raw 9", "take from T1 to T2, no reason stated")]


def test_what_a_sentence_rests_on_is_kept_however_far_away_and_numbered() -> None:
    far = event(-900, "T1", 0.1, 1)
    events = [event(second, "T1", 0.1, second + 2) for second in range(9)]
    keep = frozenset({("events.csv", 10), ("events.csv", 1)})
    other = event_line(event(-800, "T1", 0.1, 77))
    rows, left_out = order_lines(events, [], [], around=T0, most=3, more=[event_line(far), other], keep=keep)
    # The three nearest are lines 2 to 4; line 10 and, from outside the window, line 1 are kept; line 77 proves nothing.
    assert [row["line"] for row in rows] == [1, 2, 3, 4, 10]
    assert [row["number"] for row in rows] == [1, 2, 3, 4, 5]
    assert line_numbers(rows)["events.csv", 10] == 5
    assert left_out == 5
