"""The page on pairs: sentences that keep to what was found, bounded tables, and what a room with nothing reads like."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from pipeline.measure.coincidences import Faults
from pipeline.measure.transports.together.measuring import judge_together
from pipeline.render.filling import fill, page_environment
from pipeline.render.reading import Reading
from pipeline.render.transports.together_numbers import once_in, share_with_limits
from pipeline.render.transports.together_page import MOST_DOUBLES, MOST_PAIRS, as_clusters, most_hours, together_sheets
from pipeline.render.transports.together_returns import not_known, returning
from pipeline.render.transports.together_words import answer
from tests.measure.test_coincidences import onsets, stretch

WHOLE = stretch((0, 360_000))


def found(*doubles: float, alone: int = 0, what: str = "unlock", incident: str | None = None) -> dict[str, Any]:
    """100 h of A and B, both good; they fail together at the seconds given, and A alone now and then."""
    singles = [1000.0 + 100 * number for number in range(alone)]
    rows = onsets(A=[*doubles, *singles], B=[second + 0.2 for second in doubles])
    told = [{**row, "what": what, "within_s": 0.01, "reel": "K1", "incident": incident} for row in rows]
    return judge_together(Faults(tuple(told), {"A": WHOLE, "B": WHOLE}, {("A", "B"): WHOLE}), {("A", "B")})


def page(reading: Reading, part: dict[str, Any]) -> str:
    full = replace(reading, figures={**reading.figures, "transports": {"together": part}})
    (sheet,) = together_sheets(full)
    return fill(page_environment(full), sheet).replace("\u00a0", " ")


def test_once_in_reads_with_two_figures() -> None:
    assert [once_in(chance) for chance in (1.0, 0.147, 0.0389, 0.00575, 2.5e-5)] == [
        "once in 1.0", "once in 6.8", "once in 26", "once in 170", "once in 40,000",
    ]  # fmt: skip
    assert (once_in(0.0), once_in(None)) == ("never", "n/a")


def test_a_share_with_its_limits() -> None:
    assert share_with_limits({"value": 0.1306, "low": 0.0004, "high": 0.2439}) == "13.1 % (under 0.1 % to 24.4 %)"
    assert share_with_limits({"value": None, "low": 0.0, "high": 1.0}) == "not known"


def test_more_than_luck_is_told_with_its_size() -> None:
    """Three doubles and seven singles: β = 6 / 13 = 46.2 %, less next to no luck. Luck: (10 / 360,000) (3 / 360,000)
    · 10 · 360,000 = 0.00083, told as under 0.01."""
    told = answer(found(50_000, 90_000, 200_000, alone=7))
    assert told[0].startswith(
        "In 100.0 h in which two machines of one transmission both ran well, they failed within 5 s of each other "
        "three times, where luck would bring that less than 0.01 times: they share causes (adjusted p below 0.001)."
    )
    assert "46.1 % (" in told[0]
    assert told[1].startswith("A programme of 30 min loses both at some moment about once in ")
    assert "A and B (three doubles, by luck under 0.01)" in told[2]


def test_no_double_is_no_proof_of_none() -> None:
    told = " ".join(answer(found(alone=20)))
    assert "they never failed within 5 s of each other, where luck" in told
    assert "no more than luck easily gives" in told
    # 20 events, one double is enough: 1 - 0.2^(1/20) = 0.0773, β = 2 · 0.0773 / 1.0773 = 14.4 %.
    assert "A share of 14.4 % would have been found with a chance of 80 %." in told
    # Upper limit of 0 of 20: 1 - 0.025^(1/20) = 0.1684, β = 28.8 %.
    assert "By the upper 95 % limit at most 28.8 %" in told
    assert "No pair stands out by itself" in told


def test_a_single_double_is_said_to_be_little() -> None:
    told = " ".join(answer(found(50_000, alone=3)))
    assert "worth a look and no more" in told
    assert "more than luck easily gives, though one event is little to go by (adjusted p" in told
    assert "they share causes" not in told


def test_the_same_spot_is_said() -> None:
    told = answer(found(50_000, 70_000, alone=3, what="picture lost"))
    assert told[-1].startswith("All doubles were the loss of the same thing, picture or sound, within 0.5 s on both")
    assert "same spot" not in " ".join(answer(found(50_000, alone=3)))


def test_a_recording_that_fails_at_every_playing_is_said() -> None:
    told = answer(found(50_000, 70_000, alone=3))  # both doubles are of reel K1
    assert told[-1].startswith(
        "Two doubles of 2 were of the same reels, K1: one bad recording may be behind them. It counts at each playing"
    )
    assert "same reels" not in " ".join(answer(found(50_000, alone=3)))


def test_each_recording_is_told_once_too() -> None:
    """Two playings of one recording and three singles: counted once β = 2 (1 − luck) / (3 + 2) = 40 %, less next to no
    luck; counted each time 4 / 7 = 57 %."""
    told = answer(found(50_000, 70_000, alone=3, what="picture lost"))[0]
    assert "took another of its transmission too; with each recording counted once: 40.0 % (" in told
    assert "counted once" not in answer(found(50_000, 70_000, alone=3))[0]  # not the same spot of both copies


def test_a_recording_that_failed_elsewhere_names_no_pair() -> None:
    rows = [{**row, "what": "picture lost", "within_s": 0.01, "reel": "K1", "incident": None}
            for row in onsets(A=[50_000], B=[50_000.2], C=[70_000], D=[70_000.2])]  # fmt: skip
    both = {("A", "B"): WHOLE, ("C", "D"): WHOLE}
    told = answer(judge_together(Faults(tuple(rows), dict.fromkeys("ABCD", WHOLE), both), set(both)))
    assert "No pair stands out by itself, their number allowed for." in told
    assert (
        "A and B are not called out: their only double was of the reels K1, which failed at the same spot of both "
        "copies on another pair too."
    ) in told


def test_nothing_to_compare_reads_as_one_sentence() -> None:
    empty = judge_together(Faults((), {}, {}), set())
    assert answer(empty)[0].startswith("No two machines of one transmission ever ran well together")
    calm = judge_together(Faults((), {"A": WHOLE, "B": WHOLE}, {("A", "B"): WHOLE}), {("A", "B")})
    assert "none of them failed" in answer(calm)[0]
    assert returning(calm) == ["No machine that failed alone was seen to come back before its booking ended."]
    assert not_known(empty)


def test_the_page_lists_the_doubles_with_their_incident(reading: Reading) -> None:
    incident = reading.incidents[0]["incident"]
    text = page(reading, found(50_000, alone=3, incident=incident))
    assert f'<a href="incident-{incident}.html">' in text
    assert "unlock on A and B" in text
    assert 'href="patterns.html#together"' in text
    assert "What this page cannot say" in text
    assert "2 % to 10 % (IEC 61508-6" in text


@pytest.mark.parametrize("part", [judge_together(Faults((), {}, {}), set()), found(), found(alone=2)])
def test_rooms_with_little_have_a_page(reading: Reading, part: dict[str, Any]) -> None:
    text = page(reading, part)
    assert "Pairs together or apart" in text
    assert "None" not in text
    assert "nan" not in text.split("<main")[1].replace("maintenance", "")


def test_a_large_room_is_bounded_and_says_so(reading: Reading) -> None:
    part = found(50_000, alone=3)
    (pair,) = part["pairs"]
    pairs = [{**pair, "machines": [f"M{n}", f"N{n}"], "is_named": n == 90, "shared_s": 1000.0 - n} for n in range(100)]
    doubles = part["doubles"] * (MOST_DOUBLES + 40)
    text = page(reading, {**part, "pairs": pairs, "doubles": doubles})
    assert f"The {MOST_PAIRS} named or with most hours; {100 - MOST_PAIRS} more are in data/figures.json." in text
    assert "M90 and N90" in text
    assert "M89 and N89" not in text
    assert f"The latest of {MOST_DOUBLES + 40}" in text
    assert len(text.encode()) < 300_000


def test_order_is_kept_among_the_shown() -> None:
    rows = [
        {"name": name, "machines": [name], "is_named": False, "shared_s": hours} for name, hours in (("B", 1), ("A", 2))
    ]
    assert [row["name"] for row in most_hours(rows)] == ["B", "A"]


def test_reels_of_doubles_are_counted_once_a_double() -> None:
    clusters = as_clusters([{"reels": ["K1", "K2"]}, {"reels": ["K1"]}])["coincidences"]["clusters"]
    assert [[onset["reel"] for onset in one["onsets"]] for one in clusters] == [["K1", "K2"], ["K1"]]
