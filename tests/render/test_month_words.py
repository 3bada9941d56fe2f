"""The opening of a month against figures made by hand."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.render import month_words
from pipeline.render.words import Local

LOCAL = Local(ZoneInfo("Europe/Stockholm"))
MONTH: dict[str, Any] = {
    "month": "2031-03",
    "air_s": 1_485_360.0,
    "lost_s": 192.0,
    "unknown_s": 4320.0,
    "rescued_s": 139.0,
    "covered_s": 1_368_000.0,
    "unproved_s": 7200.0,
    "exposed_s": 105_648.0,
    "exposed_none_booked_s": 90_000.0,
    "exposed_not_good_s": 15_636.0,
    "exposed_out_of_step_s": 12.0,
    "interruptions": 7,
    "forced": 6,
    "precaution": 2,
    "unexplained": 1,
    "protect_switches": 9,
    "protect_switches_per_1000_air_h": {"value": 21.81, "low": 9.97, "high": 41.41},
    "demands": 7,
    "demands_met": 5,
    "demands_healed": 1,
    "demands_unprotected": 1,
    "continuity": 0.99987,
    "continuity_low": 0.99696,
    "continuity_high": 0.999871,
}
WORST = {
    "started_at_utc": datetime.fromisoformat("2031-03-14 19:41:07"),
    "lost_s": 100.0,
    "channel": "One",
    "machine": "T3",
}
OTHERS = {
    "count": 23,
    "air_s": 5_443_200.0,
    "value": 15.2,
    "ratio": 1.43,
    "low": 0.60,
    "high": 3.2,
    "p": 0.42,
    "adjusted_p": 0.8,
}
MET = {"ratio": 5 / 7, "low": 0.2904, "high": 0.9633}


def opened(
    month: dict[str, Any] = MONTH, others: dict[str, Any] | None = OTHERS, before: dict[str, Any] | None = None
) -> str:
    compared = {"others": others, "before": before, "demands_met": MET}
    return " ".join(month_words.opening(month, compared, WORST, LOCAL))


def test_it_says_what_happened() -> None:
    text = opened()
    for words in (
        "In March 2031 the room was on air for 412.6 h.",
        (
            "It lost 3 min 12 s; seven interruptions began in it, and the worst lost 1 min 40 s on channel One, "
            "14 March 2031 at 20:41 CET, with T3 on air. For another 2 min 19 s, which is no air time, a source not of "
            "this room stood in for it."
        ),
        "Continuity of logged programme was 99.987 %; it may lie anywhere from 99.696 % to 99.987 %",
        (
            "There were nine protect switches (6 forced, 2 as a precaution, 1 unexplained): 21.8 per 1,000 air h, "
            "exact 95 % limits 9.97 to 41.4."
        ),
        "The room's other months together had 15.2 per 1,000 air h (23 in 1,512.0 h).",
        # 90,000 s = 25 h, 15,636 s = 4.34 h, 7,200 s = 2 h; unprotected 112,848 s = 31.3 h of 412.6 h = 7.6 %
        (
            "unprotected for 31.3 h (7.6 % of air time): 25.0 h with no protect booked, 4.34 h with protect not good, "
            "12 s with protect out of step and 2.00 h"
        ),
        "Protect was needed seven times and met the need five times (71 %, exact 95 % limits 29 % to 96 %).",
        # 7 demands − 5 met − 1 healed = 1 failed
        "Air came back by itself once and protect failed once. Once no protect was there at all (counted among these).",
        "Nothing is known of 1.20 h (0.3 % of air time).",
    ):
        assert words in text


def test_chance_is_allowed_for() -> None:
    assert (
        "This month had 1.43 times theirs (limits 0.60 to 3.20, p = 0.42), a difference that chance alone gives easily."
        in opened()
    )
    rare = opened(others={**OTHERS, "p": 0.002, "adjusted_p": 0.03})
    assert (
        "p = 0.002), a difference that chance alone would seldom give. "
        "Allowing for the number of months compared: p = 0.03." in rare
    )


def test_without_other_months_there_is_no_comparison() -> None:
    assert "There is no other month of this room to compare it with." in opened(others=None)


def test_the_month_before_is_told_only_when_it_says_more() -> None:
    before = {**OTHERS, "air_s": 100_000.0, "ratio": 2.0, "p": 0.3}
    assert "It had 2.00 times that of the month before" in opened(before=before)
    assert "the month before" not in opened(before=OTHERS)


def test_an_infinite_ratio_is_told_by_its_low_limit() -> None:
    none_there = {**OTHERS, "count": 0, "value": 0.0, "ratio": None, "low": 1.9, "high": None, "p": 0.01}
    assert "This month had at least 1.90 times theirs" in opened(others=none_there)
    nothing = {**none_there, "low": 0.0, "p": 1.0}
    assert "nothing can be said of a difference" in opened(others=nothing)


def test_a_month_without_trouble_is_not_praised_beyond_its_data() -> None:
    quiet = MONTH | {
        "lost_s": 0.0,
        "interruptions": 0,
        "forced": 0,
        "precaution": 0,
        "unexplained": 0,
        "protect_switches": 0,
        "protect_switches_per_1000_air_h": {"value": 0.0, "low": 0.0, "high": 8.94},
        "demands": 0,
        "unknown_s": 0.0,
        "rescued_s": 0.0,
    }
    text = " ".join(month_words.opening(quiet, {"others": None, "before": None, "demands_met": MET}, None, LOCAL))
    assert "No interruption began in it." in text
    assert "stood in" not in text
    # 3.689 events are Garwood's upper limit at a count of 0; over 412.6 h that is 8.94 per 1,000 h.
    assert "rules out no rate below 8.94 per 1,000 air h" in text
    assert "Protect was never needed." in text
    assert "The logs say something of every second of air time." in text


def test_a_month_without_air() -> None:
    assert opened(MONTH | {"air_s": 0.0}) == "No air time was booked in March 2031."
