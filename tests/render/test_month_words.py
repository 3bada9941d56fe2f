"""The opening of a month against figures made by hand, and short enough to be read aloud."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.render import month_words
from pipeline.render.month_comparison import comparison_rows
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
    "incident": "20310314-194107-one",
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


NO_OTHERS = {"others": None, "past": None, "before": None, "year_before": None, "expected": None, "demands_met": MET}
MOST_WORDS = 170
SPACE = "\u00a0"


def opened(month: dict[str, Any] = MONTH, **compared: dict[str, Any] | None) -> str:
    rows = {**NO_OTHERS, "others": OTHERS, **compared}
    return " ".join(month_words.opening(month, rows, WORST, LOCAL)).replace(SPACE, " ")


def test_it_says_what_happened() -> None:
    text = opened()
    for words in (
        "In March 2031 the room was on air for 412.6 h.",
        "It lost 3 min 12 s; seven interruptions began in it, and the worst lost 1 min 40 s: ",
        '<a href="incident-20310314-194107-one.html">channel One, 14 March 2031 at 20:41, with T3 on air</a>.',
        "For 2 min 19 s more a source not of this room stood in.",
        "Continuity of logged programme was 99.987 %, at worst 99.696 %.",
        "There were nine protect switches (6 forced, 2 as a precaution, 1 unexplained).",
        "That is 21.8 per 1,000 air h: 1.43 times the room's other months together, which chance alone gives easily.",
        # 90,000 s = 25 h, 15,636 s = 4.34 h, 7,200 s = 2 h; unprotected 112,848 s = 31.3 h of 412.6 h = 7.6 %
        (
            "Good air was unprotected for 31.3 h, 7.6 % of air time: 25.0 h no protect booked, "
            "4.34 h protect not good, 12 s out of step and 2.00 h not proved in step."
        ),
        "Protect was needed seven times and met the need five times (71 %).",
        # 7 demands − 5 met − 1 healed = 1 failed
        "Air came back by itself once and protect failed once. Once none was there.",
        "Nothing is known of 1.20 h, 0.3 % of air time.",
    ):
        assert words.replace("'", "&#39;") in text


def test_it_is_short_enough_to_be_read_aloud() -> None:
    """With everything that may be said; a unit is read with its number and is no word of its own."""
    row = {name: value for name, value in OTHERS.items() if name != "adjusted_p"} | {"air_s": 1.0}
    text = re.sub("<[^>]*>", "", opened(past=OTHERS, before=row, year_before={**row, "p": 0.01}))
    words = [word for word in text.split() if word.strip(".,:;()") not in {"h", "s", "min", "%"}]
    assert len(words) <= MOST_WORDS
    assert "Chance alone would seldom give the difference from March 2030; the rest it gives easily." in text


def test_numbers_are_not_parted_from_their_units() -> None:
    (first, *_) = month_words.opening(MONTH, {**NO_OTHERS}, WORST, LOCAL)
    assert f"412.6{SPACE}h" in first


def test_chance_is_allowed_for() -> None:
    rare = {**OTHERS, "p": 0.002, "adjusted_p": 0.03}
    assert "which chance alone would seldom give." in opened(others=rare)
    # The p before the number of months is allowed for is not what counts.
    assert "which chance alone gives easily." in opened(others={**rare, "adjusted_p": 0.06})


def test_without_other_months_there_is_no_comparison() -> None:
    assert "there is no other month of this room to compare it with." in opened(others=None)


def test_twelve_months_before_go_before_all_others() -> None:
    text = opened(past={**OTHERS, "ratio": 1.2})
    assert "1.20 times the twelve months before" in text
    assert "other months together" not in text


def test_the_month_before_is_told_only_when_it_says_more() -> None:
    before = {**OTHERS, "air_s": 100_000.0, "ratio": 2.0, "p": 0.3}
    assert "and 2.00 times the month before" in opened(before=before)
    assert "the month before" not in opened(before=OTHERS)
    # A year before with as many hours as the month before is another month all the same.
    text = opened(before=before, year_before={**before, "ratio": 3.0})
    assert "2.00 times the month before and 3.00 times March 2030" in text


def test_an_infinite_ratio_is_told_by_its_low_limit() -> None:
    none_there = {**OTHERS, "count": 0, "value": 0.0, "ratio": None, "low": 1.9, "high": None, "p": 0.01}
    assert "at least 1.90 times the room&#39;s other months together" in opened(others=none_there)
    nothing = {**none_there, "low": 0.0, "p": 1.0}
    assert "as little as in the room&#39;s other months together" in opened(others=nothing)


def test_a_hostile_name_stays_a_name() -> None:
    worst = {**WORST, "channel": "<script>", "machine": None}
    (first, *_) = month_words.opening(MONTH, {**NO_OTHERS}, worst, LOCAL)
    assert "channel &lt;script&gt;, 14 March 2031 at 20:41, with the selector on standby" in first
    assert "<script" not in first


def test_rows_of_the_table_say_what_each_is_held_against() -> None:
    rows = comparison_rows("2031-03", {**NO_OTHERS, "others": OTHERS, "year_before": {**OTHERS, "p": 0.01}})
    told = [(row["place"], row["words"], row["is_seldom"]) for row in rows]
    assert told == [("others", "all other months together", False), ("year_before", "March 2030", False)]


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
    text = " ".join(month_words.opening(quiet, NO_OTHERS, None, LOCAL)).replace(SPACE, " ")
    assert "No interruption began in it." in text
    assert "stood in" not in text
    # 3.689 events are Garwood's upper limit at a count of 0; over 412.6 h that is 8.94 per 1,000 h.
    assert "rules out no rate below 8.94 per 1,000 air h" in text
    assert "Protect was never needed." in text
    assert "The logs say something of every second of air time." in text


def test_a_month_without_air() -> None:
    assert opened(MONTH | {"air_s": 0.0}) == "No air time was booked in March 2031."
