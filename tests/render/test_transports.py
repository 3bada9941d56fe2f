"""The manager's page: register order, luck told before differences, and duty as protect with its own hours."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from pipeline.render.reading import Reading
from pipeline.render.transports import cover_loss_rate, in_register_order, luck
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE_MACHINE

FLOWN: list[dict[str, Any]] = [
    {"machine": "T1", "protect_switches": 6},
    {"machine": "T2", "protect_switches": 2},
]


def test_register_order_and_no_ranking(reading: Reading) -> None:
    assert [row["machine"] for row in in_register_order(reading)] == ["T1", "T2", "T3", HOSTILE_MACHINE]


def test_losses_of_cover_go_by_protect_hours() -> None:
    rate = cover_loss_rate({"cover_losses": 3, "protect_s": 600 * 3600})
    # 3 in 0.6 thousand hours; limits by the chi-square form of Garwood.
    limits = (stats.chi2.ppf(0.025, 6) / 2 / 0.6, stats.chi2.ppf(0.975, 8) / 2 / 0.6)
    assert (rate["value"], rate["low"], rate["high"]) == pytest.approx((5.0, *limits))
    assert cover_loss_rate({"cover_losses": 0, "protect_s": 0.0})["value"] is None


def test_luck_is_told_first() -> None:
    same = {"others": {"ratio": 1.0, "p": 0.6, "adjusted_p": 0.9}, "evened": None}
    compared = {"worst_count": 6, "worst_by_luck": 0.504, "shape": None, "machines": {"T1": same, "T2": same}}
    told = luck(compared, FLOWN)
    assert told[0].startswith("The highest count is 6 (T1).")
    assert "with a chance of 50 %: somebody is always worst." in told[0]
    assert told[1].startswith("No transport differs")
    assert "no wider than luck" in told[2]


def test_what_luck_does_not_explain_is_named_with_its_adjusted_p() -> None:
    apart = {"others": {"ratio": 4.0, "p": 0.001, "adjusted_p": 0.008}, "evened": None}
    compared = {"worst_count": 6, "worst_by_luck": 0.01, "shape": 2.0, "machines": {"T1": apart}}
    told = luck(compared, FLOWN)
    assert told[1].endswith("sets apart: T1 (4.00 times the others, adjusted p = 0.008).")
    assert len(told) == 2


def test_too_few_to_compare() -> None:
    none = {"worst_count": 0, "worst_by_luck": None, "shape": None, "machines": {}}
    assert luck(none, FLOWN) == ["There are too few protect switches to compare transports at all."]


def test_cautions_and_limits_of_the_page_are_printed(rendered: Rendered) -> None:
    page = rendered.text("transports.html")
    for words in (
        "What this page cannot say",
        "Trained people only, under local codes and licensed practice",
        "never trade safety for air time",
        "interlocks and push-buttons are no isolation",
    ):
        assert words in page
