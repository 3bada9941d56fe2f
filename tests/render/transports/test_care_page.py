"""The page on care: sentences that keep to what was found, nothing hidden, and bounded in a large room."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import polars as pl
import pytest

from pipeline.measure.transports.care.adherence import find_adherence
from pipeline.measure.transports.care.comparison import compare_care
from pipeline.render.filling import fill, page_environment
from pipeline.render.reading import Reading
from pipeline.render.transports.care_chart import care_ratios
from pipeline.render.transports.care_chart import ratio_rows as chart_rows
from pipeline.render.transports.care_names import ratio_text, share_text
from pipeline.render.transports.care_page import MOST_MACHINES, adherence_rows, care_sheets, group_rows, ratio_rows
from pipeline.render.transports.care_words import not_known, nothing, told, unpaired, watched
from pipeline.render.transports.ratio_chart import LEAST, MOST
from tests.measure.transports.test_care import Cell, cells, cleaned_only
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE_MACHINE

MACHINE = {
    "uses_count": 10, "events_count": 1, "duty_h": 20.0, "clean_known_count": 10, "clean_count": 9,
    "lineup_known_count": 0, "lineup_count": 0, "heard_before_s": 1450.0, "head_h": None,
}  # fmt: skip


def found_of(frame: pl.DataFrame, *machines: dict[str, Any], **more: Any) -> dict[str, Any]:
    """What ``measure_care`` gives of these cells and machines."""
    rows = pl.DataFrame([{"machine": "T1", **MACHINE, **machine} for machine in machines or ({},)])
    return {
        "uses_count": int(frame["uses_count"].sum()), "events_count": int(frame["events_count"].sum()),
        "events_outside_count": 0, "duty_h": float(frame["duty_h"].sum()), "silence_s": 14400.0,
        "cuts": {"warm_up_s": 3600.0, "head_h": 22.0}, **compare_care(frame), "adherence": find_adherence(rows),
    } | more  # fmt: skip


def named_room(less: int, more: int) -> dict[str, Any]:
    rows = [(name, is_less, less if is_less else more, 100.0) for name in "ab" for is_less in (True, False)]
    return found_of(cleaned_only(*rows))


def test_what_is_named_is_told_with_its_limits() -> None:
    """80 in 200 h against 20 in 200 h: four times. scipy's exact limits of 80 in 100, 0.7082 and 0.8733, as odds."""
    answer = told(named_room(40, 10))[0]
    assert answer.startswith(
        "On the same machines, uses not cleaned before had 4.00 times the events per hour of those cleaned before "
        "(limits 2.43 to 6.90, adjusted p below 0.001)"
    )
    assert answer.endswith(": more with less care.")


def test_fewer_with_less_care_is_never_called_harm() -> None:
    answer = told(named_room(10, 40))[0]
    assert "had 0.25 times" in answer
    assert answer.endswith("fewer with less care, which may only say that care goes where trouble is.")


def test_the_caution_is_always_there_and_nothing_stands_out_quietly() -> None:
    lines = told(named_room(20, 20))
    assert lines[0].startswith("No kind of care stands out")
    assert "(80 events in 4 uses, 400.0 h due)" in lines[0]
    assert "times as high without cleaning" in lines[-2]
    assert lines[-1] == watched()


def test_no_ratio_is_told_that_nobody_could_act_on() -> None:
    """One hour in 400 without cleaning: only a rate some thirty times as high would have been seen. One use of three is
    not rare; one of 100 is."""
    rows = [("a", True, 0, 1.0), ("a", False, 40, 200.0), ("b", False, 40, 199.0)]
    line = told(found_of(cleaned_only(*rows)))[-2]
    assert line == "Of cleaning next to nothing can be said: these hours could not show even 5 times the rate."
    room = found_of(cleaned_only(*rows))
    room["items"][0]["more"]["uses_count"] = 99
    assert told(room)[-2] == "Cleaning was hardly ever left out (1 of 100 uses), so its effect cannot be seen."


def test_a_share_of_all_and_a_word_never_logged() -> None:
    found = found_of(cleaned_only(("T1", False, 1, 9.0)), {"clean_count": 10})
    adherence = told(found)[1]
    # Ten of ten: the lower limit is 0.025^(1/10) = 0.6915.
    assert "Cleaned before the use: 10 of 10, 100.0 % (69.2 to 100.0 %). Where it is always done" in adherence
    assert "No machine logs line-up, so whether it was done is not recorded." in adherence
    assert told(found)[0] == unpaired()
    assert "Never logged: line-up of 1 machine. That is not recorded, which is not the same as not done." in not_known(
        found
    )


def test_a_room_without_uses_says_what_it_would_take() -> None:
    assert told(found_of(cells())) == [nothing()]


def test_what_is_not_recorded_is_told_with_its_size() -> None:
    rows: list[Cell] = [("T1", None, True, True, True, 3, 2, 5.0), ("T1", True, True, True, True, 1, 0, 2.0)]
    lines = not_known(found_of(cells(*rows), events_outside_count=2))
    assert lines[0] == ("Cleaning of 3 uses with 5.00 h due and 2 events: not recorded, and compared with nothing.")
    assert any(line.startswith("2 events on standby, or of a machine") for line in lines)


def test_texts_of_ratios_and_shares() -> None:
    assert ratio_text({"value": 2.0, "low": 0.9325, "high": 4.0226}) == "2.00 (0.93 to 4.02)"
    assert ratio_text({"value": None, "low": 1.2, "high": None}) == "without limit (1.20 or more)"
    assert ratio_text(None) == "n/a"
    assert share_text({"count": 0, "known_count": 0, "value": None, "low": 0.0, "high": 1.0}) == "not recorded"


def test_tables_add_up_to_the_room() -> None:
    rows: list[Cell] = [
        ("T1", True, None, True, False, 2, 3, 4.0), ("T1", False, None, False, True, 5, 1, 6.0),
        ("T2", None, None, None, None, 7, 2, 8.0),
    ]  # fmt: skip
    found = found_of(cells(*rows))
    shown = group_rows(found)
    for title in ("cleaning", "warm-up"):
        start = next(place for place, row in enumerate(shown) if row["title"] == title)
        assert sum(row["uses"] for row in shown[start : start + 3]) == 14
        assert sum(row["events"] for row in shown[start : start + 3]) == 6
    lineup = next(row for row in shown if row["title"] == "line-up")
    assert (lineup["words"], lineup["uses"]) == ("not recorded", 14)
    assert [row["title"] for row in ratio_rows(found)] == ["cleaning", "line-up", "warm-up", "age of the head"]
    assert ratio_rows(found)[1]["together"] == "n/a"


def test_the_chart_cuts_at_its_frame_and_says_every_number() -> None:
    found = found_of(cleaned_only(("T1", True, 6, 10.0), ("T1", False, 0, 10.0), ("T2", True, 1, 9.0)))
    rows = chart_rows(found)
    assert [row["line"] for row in rows] == ["cleaning, inside machines", "cleaning, all machines together"]
    assert all(row["value"] is None and row["high"] == MOST and LEAST <= row["low"] <= MOST for row in rows)
    figure = care_ratios(found, "care")
    assert figure is not None
    assert "cleaning, inside machines: without limit (1.18 or more)" in figure.says
    assert "<script" not in figure.svg
    assert care_ratios(found_of(cells()), "care") is None


def test_a_large_room_prints_the_most_used_and_says_how_many() -> None:
    machines = [{"machine": f"T{place:05}", "duty_h": 1.0 + place} for place in range(10_000)]
    found = found_of(cleaned_only(("T1", True, 1, 1.0)), *machines)
    shown = adherence_rows(found, [{"machine": "T09999", "pair": "A"}, {"machine": "T09970", "pair": "B"}])
    assert len(shown) == MOST_MACHINES
    # The registered ones first, by pair; then by name; the least used of those shown is number 9,960.
    assert [row["machine"] for row in shown[:3]] == ["T09999", "T09970", "T09960"]


@pytest.mark.parametrize("frame", [cells(), cleaned_only(("T1", True, 4, 10.0), ("T1", False, 1, 10.0))])
def test_the_page_is_filled_whatever_was_found(reading: Reading, frame: pl.DataFrame) -> None:
    found = found_of(frame, {"machine": HOSTILE_MACHINE})
    figures = {**reading.figures, "transports": {"care": found}}
    (sheet,) = care_sheets(replace(reading, figures=figures))
    html = fill(page_environment(reading), sheet)
    assert HOSTILE_MACHINE not in html
    assert "What this page cannot say" in html
    assert "local codes and licensed practice" in html
    assert ("Less care against more" in html) == bool(found["uses_count"])


def test_the_small_room_has_its_page(rendered: Rendered) -> None:
    text = rendered.text("care.html")
    assert "This is watching and not an experiment" in text
    assert f"{rendered.figures['transports']['care']['uses_count']:,}" in text
