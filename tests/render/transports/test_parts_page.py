"""The page on parts: the answer first, nothing called worn that is not shown, the deciding words, bounded tables."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.costs import Costs, PartCost
from pipeline.render.filling import fill, page_environment
from pipeline.render.reading import Reading
from pipeline.render.transports.parts_charts import fitted_curve, life_chart, says
from pipeline.render.transports.parts_missing import not_known
from pipeline.render.transports.parts_numbers import life_hours, price, share_of
from pipeline.render.transports.parts_page import MOST_CHARTS, MOST_IN_USE, in_use_rows, parts_sheets
from pipeline.render.transports.parts_words import answer, reading_of_shape, why_no_fit
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE

VALUE = {"value": 0.5, "low": 0.25, "high": 0.75}
WEIBULL: dict[str, Any] = {
    "shape": {"value": 2.5, "low": 1.5, "high": 3.5}, "scale_h": {"value": 300.0, "low": 250.0, "high": 360.0},
    "b10_h": {"value": 122.0, "low": 80.0, "high": 160.0}, "failures_count": 25, "p": 0.0004, "adjusted_p": 0.0008,
    "told_from": 1.6,
}  # fmt: skip
MEDIAN = {"median": 260.0, "low": 200.0, "high": None, "n": 40, "open": 15, "longest": 400.0}
EARLY = {"within": 24.0, "count": 1, "trials_count": 38, "cut_count": 2, "value": 1 / 38, "low": 0.0007, "high": 0.138}
IN_USE = {
    "machine": "VT2", "kind": "head", "detail": "H7", "life_h": 210.0, "in_place_days": 33.0, "basis": "weibull",
    "last_100_h": VALUE, "last_500_h": VALUE, "median_h": {"value": 90.0, "low": 60.0, "high": 140.0},
}  # fmt: skip
KIND: dict[str, Any] = {
    "kind": "head", "unit": "h", "n": 40, "failed_count": 25, "taken_out_count": 10, "running_count": 5,
    "unclear_count": 2, "fitted_again_count": 3, "machines_count": 4, "life_h": 9000.0, "failure_h": MEDIAN,
    "removal_h": {**MEDIAN, "median": 180.0, "low": 150.0, "high": 220.0}, "failure_days": MEDIAN,
    "removal_days": {**MEDIAN, "median": 30.0}, "early_h": EARLY, "early_days": EARLY,
    "steps": [{"life_h": 100.0, "survival": 0.9}, {"life_h": 350.0, "survival": 0.2}], "weibull": WEIBULL,
    "weibull_why": None, "verdict": "wears out", "machines": {"p": 0.4, "adjusted_p": 0.4}, "money": None,
    "running": [IN_USE, {**IN_USE, "machine": "VT1", "last_100_h": {"value": 0.9, "low": 0.8, "high": 0.97}}],
}  # fmt: skip
RARE: dict[str, Any] = {
    **KIND, "kind": "fan", "weibull": None, "weibull_why": "1 of the 3 failures that are needed", "verdict": "not told",
    "machines": None, "early_h": {**EARLY, "count": 0, "trials_count": 20}, "failed_count": 1,
    "running": [{**IN_USE, "kind": "fan", "basis": None, "last_100_h": None, "last_500_h": None, "median_h": None}],
}  # fmt: skip
FOUND: dict[str, Any] = {
    "unit": "h", "level": 0.05, "tests_count": 2, "ticket_window_h": 24.0, "late_h": 1.0, "early_h": 24.0,
    "early_days": 1.0, "ahead_h": [100.0, 500.0], "least_failures_count": 3, "nameless_count": 1, "kinds_count": 2,
    "has_costs": False, "lives_count": 80, "failures_count": 26, "kinds": [KIND, RARE],
    "failures": [
        {"machine": "VT1", "kind": "head", "detail": "H1", "life_h": 300.0, "in_place_days": 40.0,
         "ended_at_utc": "2031-03-05T12:00:00Z", "ticket": "K-9", "words": "part: video head"},
    ],
}  # fmt: skip


def found(**changes: Any) -> dict[str, Any]:
    return {**FOUND, **changes}


def page(reading: Reading, parts: dict[str, Any]) -> str:
    (sheet,) = parts_sheets(replace(reading, figures={**reading.figures, "transports": {"parts": parts}}))
    return fill(page_environment(reading), sheet).replace("\u00a0", " ")


def test_the_answer_is_told_with_its_limits() -> None:
    told = answer(FOUND)
    assert told[0] == (
        "The head wears out (shape 2.50, 1.50 to 3.50, from 25 failures, adjusted p below 0.001): the longer it has "
        "run, the likelier it fails in its next hour. One in ten has failed by 122 h on tape (80.0 to 160)."
    )
    assert told[1] == ("Whatever the reason, half of the head lives (40) have ended by 180 h on tape (150 h to 220 h).")
    assert told[2] == "Failed within the first 24 head hours after fitting: head 1 of 38, 3 % (0 to 14)."
    # Of the two heads in use, VT2's has the smaller chance.
    assert told[3] == (
        "Of the parts in use, the one least sure to last is the head H7 in VT2, at 210 h: its chance to last the next "
        "100 head hours is 50 % (25 to 75)."
    )


def test_what_is_not_shown_is_not_called_wear() -> None:
    silent = {**KIND, "verdict": "not told", "weibull": {**WEIBULL, "adjusted_p": 0.2}}
    told = " ".join(answer(found(kinds=[silent])))
    assert "wears out" not in told.replace("Not shown to wear out", "")
    assert (
        "Not shown to wear out, nor to fail early: head (shape 2.50, 1.50 to 3.50; its 25 failures would mostly have "
        "told a shape from 1.60)." in told
    )
    assert reading_of_shape(silent) == "above 1, not told from chance: run to failure until shown otherwise"
    early = {**KIND, "verdict": "fails early", "weibull": {**WEIBULL, "shape": {"value": 0.6, "low": 0.4, "high": 0.8}}}
    assert "fails early" in answer(found(kinds=[early]))[0]
    assert reading_of_shape(early) == "fails early: run to failure"
    assert reading_of_shape(KIND) == "wears out"


def test_machines_that_use_a_kind_up_unlike_are_told_without_a_name() -> None:
    kind = {**KIND, "machines": {"p": 0.001, "adjusted_p": 0.002}}
    assert "Not used up alike on all machines, by more than chance easily gives: head (adjusted p = 0.002)." in answer(
        found(kinds=[kind])
    )
    assert not any("alike" in line for line in answer(FOUND))


def test_many_kinds_are_summed_and_not_dropped() -> None:
    worn = [{**KIND, "kind": f"part {number}"} for number in range(5)]
    silent = [{**KIND, "kind": f"lamp {number}", "verdict": "not told"} for number in range(5)]
    told = answer(found(kinds=[*worn, *silent]))
    assert "So it is shown of 2 more kinds; the table has them all." in told
    assert any(line.endswith("and 2 more.") for line in told)
    reasons = [{**RARE, "kind": f"fuse {number}"} for number in range(15)]
    assert why_no_fit(reasons).endswith("fuse 11 and 3 more kinds (1 of the 3 failures that are needed).")
    once = {**RARE, "weibull_why": "fitted once only"}
    assert why_no_fit([KIND, RARE, once]) == (
        "No Weibull life is fitted to fan (1 of the 3 failures that are needed); fan (fitted once only)."
    )
    assert why_no_fit([KIND]) == ""


def test_too_few_failures_say_what_is_missing() -> None:
    told = answer(found(kinds=[RARE], lives_count=40, failures_count=1))
    assert told[0] == (
        "Which kinds wear out cannot be told: of 40 lives known from their fitting 1 ended in a failure that a ticket "
        "names, and no kind has the 3 that are needed."
    )
    assert "None of the 20 parts that ran at least 24 head hours failed within the first 24 after fitting." in told
    assert told[-1] == (
        "Which part in use will need replacing first cannot be told from failures; the table gives their hours."
    )
    never = {**RARE, "removal_h": {**MEDIAN, "median": None}}
    assert "Fewer than half of the 40 lives of the fan have ended, for whatever reason." in answer(found(kinds=[never]))


def test_a_room_without_fittings_says_what_it_would_need(rendered: Rendered) -> None:
    text = rendered.text("parts.html")
    assert "No fitting of a head or a part is logged that names its kind" in text
    assert "head_fitted and part_fitted" in text
    assert "<table" not in text
    assert "discharge and prove dead" in text


def test_numbers_in_words() -> None:
    assert (life_hours(None), life_hours(261.4)) == ("not reached", "261 h")
    assert (share_of(None), share_of({"value": None, "low": 0, "high": 1})) == ("not known", "not known")
    assert share_of(VALUE) == "50 % (25 to 75)"
    assert price({"value": 131.0, "low": 116.0, "high": None}) == "131 (116 to run to failure)"
    assert price({"value": None, "low": None, "high": None}) == "run to failure"


def test_the_page_has_its_parts_in_order(reading: Reading) -> None:
    text = page(reading, FOUND)
    places = [
        text.index(f'id="{name}"') for name in ("kinds", "wear", "early", "in-use", "failures", "method", "cannot")
    ]
    assert places == sorted(places)
    assert text.index("The head wears out") < text.index("The case</a>") < text.index("<svg role") < places[0]
    assert "No Weibull life is fitted to fan (1 of the 3 failures that are needed)." in text
    for caution in (
        "Trained people only",
        "lock and tag",
        "prove dead",
        "rotating head drum",
        "Solvents",
        "local codes",
    ):
        assert caution in text
    assert "IEC 61703" in text
    assert "348" not in text  # lives of other rooms are no benchmark
    assert "238 h" not in text


def test_each_failure_stands_with_its_ticket_and_words(reading: Reading) -> None:
    text = page(reading, FOUND)
    row = text[text.index('id="failures"') :]
    assert "The latest 1 of 26." in row
    for cell in ("K-9", "part: video head", "H1", "2031-03-05 13:00"):  # 12:00 UTC on the wall in winter
        assert cell in row


def test_money_stands_only_where_prices_are_stated(reading: Reading) -> None:
    assert "At what age a planned change" not in page(reading, found(has_costs=True))
    assert "states no planned and failure price" in page(reading, found(has_costs=True))
    money = {
        "currency": "EUR", "planned": 300.0, "failure": 2000.0, "age_h": {"value": 131.0, "low": 116.0, "high": None},
        "cost_per_1000_h": 4740.0, "run_to_failure_per_1000_h": 7352.0,
    }  # fmt: skip
    text = page(reading, found(has_costs=True, kinds=[{**KIND, "money": money}]))
    assert "131 (116 to run to failure)" in text
    assert "4,740 EUR" in text
    assert Costs("EUR", parts=(PartCost("head", 1.0, 2.0),)).of_part("head") is not None
    assert any("site.toml states no prices" in line for line in not_known(FOUND))
    assert not any("site.toml states no prices" in line for line in not_known(found(has_costs=True)))


def test_what_is_left_out_is_counted() -> None:
    lines = " ".join(not_known(FOUND))
    # Two kinds on four machines each: eight parts were in before the first fitting.
    assert "How long 8 parts lasted that were in a machine when the first of their kind was fitted" in lines
    assert "Whether 4 parts had failed: taken out within 24 h of a ticket" in lines
    assert "6 heads fitted before under the same serial" in lines
    assert "Which life began at 1 fitting: the line names no kind of part" in lines


def test_everything_is_bounded(reading: Reading) -> None:
    many = [{**KIND, "kind": f"part {number}", "running": [IN_USE] * 20} for number in range(9)]
    (sheet,) = parts_sheets(replace(reading, figures={**reading.figures, "transports": {"parts": found(kinds=many)}}))
    assert len(sheet.context["charts"]) == MOST_CHARTS
    assert len(sheet.context["in_use"]) == MOST_IN_USE
    assert "Printed are 60 of 45 in use" not in page(reading, found(kinds=many))
    counted = [{**kind, "running_count": 20} for kind in many]
    assert "Printed are 60 of 180 in use, chosen as the least sure to last." in page(
        reading, found(kinds=counted, kinds_count=99)
    )
    assert "the 9 with most lives of 99" in page(reading, found(kinds=counted, kinds_count=99))


def test_parts_of_which_nothing_is_told_come_last() -> None:
    rows = in_use_rows([RARE, KIND])
    assert [row["basis"] for row in rows] == ["weibull", "weibull", None]


def test_the_least_sure_to_last_are_kept() -> None:
    sure = {**IN_USE, "last_100_h": {"value": 0.9, "low": 0.8, "high": 0.95}}
    doubtful = {**IN_USE, "machine": "VT9", "last_100_h": {"value": 0.1, "low": 0.0, "high": 0.3}}
    rows = in_use_rows([{**RARE}, {**KIND, "running": [*[sure] * MOST_IN_USE, doubtful]}])
    assert len(rows) == MOST_IN_USE
    assert rows[-1]["machine"] == "VT9"  # in its place in the table


def test_the_chart_says_what_it_shows() -> None:
    """exp(-(300 / 300)^2.5) = exp(-1) = 0.3679 at the scale."""
    figure = life_chart(KIND, "life")
    assert says(KIND) == (
        "25 failures among 40 lives; after the last failure, at 350 h, 20 % had not failed. The Weibull life has shape "
        "2.50."
    )
    assert says(KIND) in figure.says
    assert "dashed" in figure.caption
    assert "dashed" not in life_chart(RARE, "life").caption
    curve = fitted_curve(KIND, 300.0)
    assert curve[0] == {"life_h": 0.0, "survival": 1.0}
    assert curve[-1]["survival"] == pytest.approx(np.exp(-1))


def test_hostile_words_stay_words(reading: Reading) -> None:
    hostile = {**KIND, "kind": HOSTILE, "running": [{**IN_USE, "kind": HOSTILE, "detail": HOSTILE}]}
    failures = [{**FOUND["failures"][0], "words": HOSTILE, "kind": HOSTILE}]
    text = page(reading, found(kinds=[hostile], failures=failures))
    assert HOSTILE not in text
