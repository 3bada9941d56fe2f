"""The manager's page: register order, the answer first, what could be seen, the funnel, and no ranking."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from pipeline.measure.transports.rates.judging import judge_rates
from pipeline.measure.transports.rates.work import Work
from pipeline.render.reading import Reading
from pipeline.render.transports.side_by_side import cover_loss_rate, in_register_order
from pipeline.render.transports.side_by_side_funnel import outside_words, place_labels, rate_funnel
from pipeline.render.transports.side_by_side_measures import of_measure
from pipeline.render.transports.side_by_side_tables import MOST_ROWS, months_words, rate_tables
from pipeline.render.transports.side_by_side_words import answer, scatter, scatter_note, verdict
from pipeline.statistics import poisson_limits
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE_MACHINE

NONE: dict[str, Any] = {"worst_count": 0, "worst_by_luck": None, "shape": None, "machines": {}}


def work(measure: str, counts: list[int], hours: list[float]) -> Work:
    names = tuple(f"T{number}" for number in range(1, len(counts) + 1))
    column = np.array(hours)[:, None]
    return Work(
        measure, names, np.array(counts), np.array(counts), np.array(hours), np.array(counts)[:, None], column,
        (("any age", "00:00 to 06:00"),),
    )  # fmt: skip


def judged(air: list[int], hours: list[float], protect: list[int] | None = None) -> dict[str, Any]:
    return judge_rates([work("air", air, hours), work("protect", protect or [0] * len(air), hours)], {}, 730.5)


def test_register_order_and_no_ranking(reading: Reading) -> None:
    assert [row["machine"] for row in in_register_order(reading)] == ["T1", "T2", "T3", HOSTILE_MACHINE]


def test_losses_of_cover_go_by_protect_hours() -> None:
    rate = cover_loss_rate({"cover_losses": 3, "protect_s": 600 * 3600})
    # 3 in 0.6 thousand hours; limits by the chi-square form of Garwood.
    limits = (stats.chi2.ppf(0.025, 6) / 2 / 0.6, stats.chi2.ppf(0.975, 8) / 2 / 0.6)
    assert (rate["value"], rate["low"], rate["high"]) == pytest.approx((5.0, *limits))
    assert cover_loss_rate({"cover_losses": 0, "protect_s": 0.0})["value"] is None


def test_nobody_stands_out_and_how_far_out_one_had_to_stand() -> None:
    found = judged([6, 2], [100.0, 100.0])
    compared = {"worst_count": 6, "worst_by_luck": 0.504, "shape": None}
    flown = [{"machine": "T1", "protect_switches": 6}, {"machine": "T2", "protect_switches": 2}]
    told = answer(found, compared, flown)
    assert told[0].startswith(
        "No transport differs from the others by more than chance easily gives, the 2 comparisons allowed for. "
    )
    high, low = (row["detectable_ratio"] for row in of_measure(found, "air")["machines"])
    assert (
        "With a chance of 80 % these hours would have shown a transport with about "
        f"{min(low, high):.1f} to {max(low, high):.1f} times the others' protect switches per"
    ) in told[0]
    # One class, like hours: 4 expected of each, seen 6 and 2.
    assert (
        "the transports have 0.50 to 1.50 times the protect switches that their work would bring at the room's rates; "
        "for each of them luck is enough to explain it."
    ) in told[0]
    assert told[1].startswith("The highest count of protect switches is 6 (T1).")
    assert "with a chance of 50 %: somebody is always worst." in told[1]
    assert "no wider than luck alone gives. The one most likely to have the highest true rate is T1" in told[1]
    assert told[1].endswith("if all were alike it would be 1 in 2.")


def test_what_luck_does_not_explain_is_named_with_its_adjusted_p() -> None:
    """40 against 10 in like hours: 4 times. Of two tests alike the adjusted p is p."""
    found = judged([40, 10], [100.0, 100.0])
    p = 2 * stats.binom(50, 0.5).sf(39)
    assert p < 0.001
    told = verdict(found)[0]
    assert told.startswith(
        "More than chance easily gives, the 2 comparisons allowed for, sets apart T1, with 4.00 times"
    )
    assert "adjusted p below 0.001" in told
    assert "and T2, with 0.25 times" in told


def test_many_events_of_few_incidents_are_told_and_not_named() -> None:
    air = replace(work("air", [30, 10], [100.0, 100.0]), occasions=np.array([2, 2]))
    found = judge_rates([air, work("protect", [0, 0], [100.0, 100.0])], {}, 730.5)
    told = answer(found, NONE, [])[0]
    assert told.startswith("No transport differs")
    assert "By events alone T1 (30 protect switches on 2 occasions) and T2 (10 protect switches on 2 occ" in told


def test_one_with_all_the_events_has_no_ratio() -> None:
    found = judged([0, 0, 0], [100.0, 100.0, 100.0], [30, 0, 0])
    assert "T1, which alone has losses of cover" in verdict(found)[0]
    assert "No difference" not in answer(found, NONE, [])[0]


def test_who_is_likeliest_the_worst_beside_what_it_would_be_by_luck() -> None:
    found = judged([60, 10, 30, 5], [300.0] * 4)
    told = answer(
        found, {"worst_count": 60, "worst_by_luck": 0.01, "shape": 2.0}, [{"machine": "T1", "protect_switches": 60}]
    )[1]
    assert "The one most likely to have the highest true rate is T1, with a chance of" in told
    assert told.endswith("if all were alike it would be 1 in 4.")


def test_too_few_to_compare() -> None:
    few = "There are too few protect switches to compare transports at all."
    assert answer(judged([0, 0], [10.0, 10.0]), NONE, []) == [few]
    assert rate_funnel(of_measure(judged([0, 0], [10.0, 10.0]), "air"), 0.05, "funnel") is None


def test_scattered_months_are_a_caution() -> None:
    clustered = {"measure": "air", "dispersion": {"months_count": 3, "index": 2.5, "p": 0.004}}
    (told,) = scatter(clustered, 0.05)
    assert told.startswith("Caution: monthly counts of protect switches are more scattered than luck makes them (2.50")
    assert "p = 0.004" in told
    calm = {"measure": "air", "dispersion": {"months_count": 3, "index": 1.1, "p": 0.4}}
    assert scatter(calm, 0.05) == []
    assert scatter_note(calm, 0.05).endswith(
        "no more than luck easily makes them: 1.10 times, over three months (p = 0.40)."
    )
    unknown = {"measure": "air", "dispersion": {"months_count": 1, "index": None, "p": None}}
    assert scatter_note(unknown, 0.05).startswith("Too few months")


def test_the_funnel_tells_what_it_shows() -> None:
    found = rate_funnel(of_measure(judged([12, 10, 9, 60], [300.0, 250.0, 240.0, 300.0]), "air"), 0.05, "funnel")
    assert found is not None
    assert "Funnel of 4 transports: hours on air across" in found.says
    # The room: 91 in 1,090 h, so T4 is expected to have 25; 60 is beyond the wider limits (0.05 / 4) of its own too.
    assert poisson_limits(60, 0.3, 1 - 0.05 / 4)[0] > 91 / 1.09
    # T1's own limits leave the room's rate out at 95 % and not at the wider level; so do T2's and T3's, or neither.
    for name, count, hours in (("T1", 12, 0.3), ("T2", 10, 0.25), ("T3", 9, 0.24)):
        is_out, is_far = (poisson_limits(count, hours, level)[1] < 91 / 1.09 for level in (0.95, 1 - 0.05 / 4))
        wide, _, between = found.says.partition("Outside the wider limits: ")[2].partition("Between the limits: ")
        assert (name in between.split(".")[0]) == (is_out and not is_far)
        assert (name in wide) == is_far
    assert 'role="img"' in found.svg
    assert "stroke-dasharray" in found.svg
    for colour in ("red", "green", "orange", "#7b2d13"):
        assert colour not in found.svg


def test_all_within_the_limits_is_said() -> None:
    points = [{"machine": "T1", "outside": ""}]
    assert outside_words(points, {"inner": 0.95}) == "All lie within the 95 % limits."


def test_names_lie_on_no_mark_and_on_no_other_name() -> None:
    points = [
        {"machine": f"VT{number}", "h": 100.0 + number / 50, "value": 50.0, "outside": ""} for number in range(12)
    ]
    placed = place_labels(points, 200.0, 100.0)
    assert 1 <= len(placed) < 12  # no room for all of them in one spot
    spots = [(row["h"] / 200 * 560, row["value"] / 100 * 320) for row in placed]
    for place, (x, y) in enumerate(spots):
        assert all(abs(x - u) > 19 or abs(y - v) >= 12 for u, v in spots[:place])


def test_many_machines_are_cut_and_said_to_be(reading: Reading) -> None:
    counts = [1] * 70
    rates = judged(counts, [float(hour) for hour in range(10, 80)])
    machines = [{"machine": f"T{number}"} for number in range(1, 71)]
    duty = {**reading.figures["transports"]["duty"], "machines": [
        {**reading.figures["transports"]["duty"]["machines"][0], **row} for row in machines
    ]}  # fmt: skip
    many = Reading(**{**vars(reading), "figures": {**reading.figures, "transports": {"duty": duty, "rates": rates}}})
    found = rate_tables(many, machines)
    assert len(found["duty_rows"]) == len(found["air"]["rows"]) == MOST_ROWS
    assert "Printed are 60 of 70 transports, in register order" in found["duty_more"]
    assert "Printed are 60 of 70 transports, those with most hours" in found["air"]["more"]
    assert found["air"]["rows"][0]["machine"] == "T11"


def test_months_in_words() -> None:
    assert (months_words(None), months_words(0.0), months_words(3.353)) == ("not known", "none", "3.35")


def test_cautions_and_limits_of_the_page_are_printed(rendered: Rendered) -> None:
    page = rendered.text("transports.html")
    for words in (
        "What this page cannot say",
        "Trained people only, under local codes and licensed practice",
        "never trade safety for air time",
        "interlocks and push-buttons are no isolation",
        "Heads on tape",
        "Seen over expected",
        'href="case.html"',
        'href="recording.html"',
    ):
        assert words in page
