"""The moments against facts made by hand: their ±, their clocks, and pairs whose order cannot be known."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from pipeline.render.moments import (
    HOUSE,
    Moment,
    joint,
    length_margin,
    moments_of,
    of_event,
    of_take,
    order_not_known,
    other_faults,
    take_margin,
)
from pipeline.render.witness import Witness
from pipeline.render.words import Local
from tests.render.test_incident_words import LOST, ONSET, PART, TAKE

LOCAL = Local(ZoneInfo("Europe/Stockholm"))


@pytest.mark.parametrize(
    ("stamp", "margin_s"),
    [
        # One step of the last digit written: to the minute 60 s, to the second 1 s, to the millisecond 0.001 s.
        ("2031-03-14T20:41", 60.0),
        ("2031-03-14T20:41:15", 1.0),
        ("2031-03-14T20:41:15+01:00", 1.0),
        ("2031-03-14 20:41:15.4Z", 0.1),
        ("2031-03-14T20:41:15.043Z", 0.001),
        ("20:41:15,04", 0.01),
        ("46023.5", 0.0),  # a serial number has no digits of a clock
        (None, 0.0),
    ],
)
def test_a_take_is_known_to_the_last_digit_of_its_stamp(stamp: str | None, margin_s: float) -> None:
    assert take_margin(stamp) == pytest.approx(margin_s)


def test_a_joint_margin_is_the_sum_and_by_one_clock_none() -> None:
    lost, take = of_event("", LOST), of_take("", TAKE)
    assert joint(lost, take) == pytest.approx(1.25)  # 0.25 s of T1's clock and 1 s of the stamp
    assert joint(lost, of_event("", LOST | {"line": 10})) == 0.0
    assert joint(lost, Moment("", ONSET, "T2", None)) is None
    assert length_margin(lost, take) == " (± 1.2 s)"
    assert length_margin(lost, Moment("", ONSET, "T2", None)) == " (± not known)"
    assert length_margin(lost, Moment("", ONSET, HOUSE, 0.0)) == " (± 0.25 s)"


def test_moments_stand_in_order_with_the_stamp_as_written() -> None:
    back = LOST | {"event": "lock", "at_utc": ONSET + timedelta(seconds=60), "line": 12, "event_key": "r1"}
    lost = LOST | {"at_text": "2031-03-14T20:41:09"}
    around = {"events": [lost], "takes": [TAKE], "good_again": [back | {"at_text": "2031-03-14T20:42:09"}]}
    found = moments_of(PART | {"event_key": "r1", "covered_again_at_utc": None}, Witness(around))
    assert [(one.what, one.stamp) for one in found] == [
        ("onset and air lost", "2031-03-14T20:41:09"),
        ("take", "2031-03-14 20:41:15"),
        ("air back", "2031-03-14 20:41:15"),
        ("T1 good again: lock", "2031-03-14T20:42:09"),
    ]
    assert [one.margin for one in found] == ["± 0.25 s", "± 1 s", "± 1 s", "± 0.25 s"]


def test_the_ticket_has_the_word_where_it_says_that_the_machine_was_restored() -> None:
    ticket = {
        "ticket": "K-1",
        "machine": "T1",
        "restored_at_utc": ONSET + timedelta(hours=2),
        "file": "t.csv",
        "line": 3,
    }
    last = moments_of(PART, Witness({"events": [LOST], "takes": [TAKE], "tickets": [ticket]}))[-1]
    assert (last.what, last.margin, last.stamp) == ("T1 restored, says ticket K-1", "as the ticket says", "")


def test_two_moments_closer_than_their_joint_margin_have_no_known_order() -> None:
    # T1 ± 0.3 s and T2 ± 0.2 s: 0.4 s apart is less than 0.5 s, 0.6 s is not. By one clock the order is known.
    one = Moment("onset", ONSET, "T1", 0.3)
    near, far = ONSET + timedelta(seconds=0.4), ONSET + timedelta(seconds=0.6)
    told = order_not_known([one, Moment("T2: unlock", near, "T2", 0.2)], LOCAL)
    assert told == [
        (
            "Onset (20:41:07, ± 0.30 s) and T2: unlock (20:41:07.40, ± 0.20 s): 0.40 s apart, joint ± 0.50 s, so their "
            "order is not known."
        )
    ]
    assert order_not_known([one, Moment("T2: unlock", far, "T2", 0.2)], LOCAL) == []
    assert order_not_known([one, Moment("T1: unlock", near, "T1", 0.3)], LOCAL) == []


def test_a_clock_of_which_nothing_is_known_is_named_once() -> None:
    moments = [Moment(word, ONSET, "T9", None) for word in ("onset", "air back")]
    assert order_not_known([*moments, Moment("take", ONSET, HOUSE, 0.0)], LOCAL) == [
        "The ± of the clock of T9 is not known, so its order against every other clock is not either."
    ]


@pytest.mark.parametrize(("apart_s", "count"), [(4.9, 1), (5.4, 1), (5.6, 0), (-5.4, 1)])
def test_faults_are_told_together_within_five_seconds_and_both_margins(apart_s: float, count: int) -> None:
    # 5 s and ± 0.25 s on both sides: up to 5.5 s.
    other: dict[str, Any] = LOST | {"machine": "T2", "at_utc": ONSET + timedelta(seconds=apart_s), "line": 20}
    witness = Witness({"events": [LOST, other], "takes": []})
    assert len(list(other_faults(PART, witness))) == count
    stop = other | {"event": "stop"}
    assert not list(other_faults(PART, Witness({"events": [LOST, stop], "takes": []})))


def test_instants_are_naive_utc() -> None:
    assert of_event("", LOST).at_utc == datetime.fromisoformat("2031-03-14 19:41:07")
