"""Faults in the same seconds: the same spot of both copies, or several machines, from rows made by hand."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.render.test_incident_words import LOST, ONSET, PART, told

STATE = {"machine": "T2", "state": "good", "started_at_utc": ONSET - timedelta(hours=1), "ended_at_utc": None}
PAIR = {
    "machine_a": "T1",
    "machine_b": "T2",
    "started_at_utc": ONSET - timedelta(hours=1),
    "ended_at_utc": ONSET,
    "is_in_step": True,
}


def other(seconds: float, event: str = "picture_lost", machine: str = "T2", **more: Any) -> dict[str, Any]:
    row = LOST | {"machine": machine, "event": event, "at_utc": ONSET + timedelta(seconds=seconds), "line": 30}
    return row | more


def text_of(*events: dict[str, Any], **around: Any) -> str:
    return told(PART, events=(LOST, *events), states=[STATE], pair_states=[PAIR], **around)


@pytest.mark.parametrize(("apart_s", "is_spot"), [(0.02, True), (0.9, True), (1.1, False)])
def test_the_same_spot_lies_within_half_a_second_and_both_margins(apart_s: float, is_spot: bool) -> None:
    # 0.5 s and ± 0.25 s of each clock: up to 1 s.
    text = text_of(other(apart_s))
    assert ("it is the same spot of both copies" in text) == is_spot
    assert ("Protect cannot help against that." in text) == is_spot
    assert ("It points at the recording" in text) == is_spot
    assert ("Within 5 s of it T2 logged picture lost" in text) != is_spot


def test_another_word_or_a_pair_out_of_step_is_no_same_spot() -> None:
    assert "same spot" not in text_of(other(0.02, "unlock"))
    assert "same spot" not in told(PART, events=(LOST, other(0.02)), states=[STATE], pair_states=[])


def test_a_third_machine_points_at_what_all_share_and_not_at_the_recording() -> None:
    text = text_of(other(0.02), other(0.3, machine="T7", line=31))
    assert "Within 5 s T7 logged picture lost at 20:41:07.30 (± 0.25 s): that points at something the machines" in text
    assert "It points at the recording" not in text


def test_clocks_of_which_nothing_is_known_make_it_an_if() -> None:
    assert "so if their clocks agree it is the same spot of both copies" in text_of(other(0.02, within_s=None))
