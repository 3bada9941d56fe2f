"""The small words beside numbers."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.render import page_words


@pytest.mark.parametrize(
    ("part", "text"),
    [
        ({"recovery_no": None}, "rescue by another source"),
        ({"recovery_no": 1, "interruption_no": None, "kind": "precaution"}, "precaution switch, no loss logged"),
        ({"recovery_no": 1, "interruption_no": 2, "kind": "forced"}, "interruption, forced switch"),
        ({"recovery_no": 1, "interruption_no": 2, "kind": None, "is_healed": True}, "interruption, healed"),
    ],
)
def test_what_a_part_is(part: dict[str, Any], text: str) -> None:
    assert page_words.what(part) == text


def test_what_was_ruled_stands_beside_what_was_found() -> None:
    part = {
        "switch_ruling": None, "kind": "forced", "found_kind": "forced", "cause_ruling": None, "top": "server",
        "second": "port", "found_top": "server", "found_second": "port", "joined_by": None,
    }  # fmt: skip
    assert page_words.overruled(part) == ""
    ruled = {**part, "switch_ruling": "R1", "found_kind": "return", "cause_ruling": "R2", "found_second": ""}
    assert page_words.overruled({**ruled, "joined_by": "R3"}) == (
        "Ruled forced by ruling R1; the program found return. Cause by ruling R2; the program found server."
        " One incident by ruling R3; the program found several."
    )
    same = {**part, "switch_ruling": "R1", "cause_ruling": "R2"}
    assert page_words.overruled(same).count("the program found the same") == 2


def test_times_that_were_cut_or_do_not_apply() -> None:
    assert page_words.cut(None, None) == ""
    assert page_words.cut(8.0, True) == "8 s"
    assert page_words.cut(8.0, False) == "8 s, cut"
    assert page_words.reached(None) == "not reached"


def test_ages_and_signs() -> None:
    assert page_words.days(16.5 * 86_400) == "16 days"
    assert page_words.days(3600.0) == "1 h"
    assert page_words.days(3757 * 86_400) == "10.3 years"  # 3,757 / 365.25 = 10.286
    assert page_words.seconds(-42.0) == "−42.00 s"
    assert page_words.ppm(78.0) == "+78.0 ppm"
    assert page_words.instant("2031-03-01T00:00:00.250000Z") == "2031-03-01 00:00:00 UTC"
    assert page_words.p_value(0.0004) == "below 0.001"
    assert page_words.ratio({"ratio": None, "low": 1.9, "high": None}) == "n/a (1.90 to no limit)"


def test_numbers_stay_with_their_units() -> None:
    text = page_words.unbroken("lost 1 min 26 s (± 0.4 s), 99.9 % of 230.6 h in 3 parts")
    assert text == "lost 1\u00a0min\u00a026\u00a0s (±\u00a00.4\u00a0s), 99.9\u00a0% of 230.6\u00a0h in 3 parts"


def test_states_care_and_bounds_in_words() -> None:
    assert page_words.air_state({"state": "exposed", "exposed_why": "not good"}) == "exposed, protect not good"
    assert page_words.air_state({"state": "unknown", "exposed_why": None}) == "not known"
    assert [page_words.care_words(word) for word in ("lineup", "head_fitted")] == ["lined up", "head fitted"]
    assert page_words.bounds({"continuity_low": 0.98637, "continuity_high": 0.99974}) == "98.637 to 99.974 %"
    assert page_words.bounds({"continuity_low": None, "continuity_high": None}) == "n/a"
