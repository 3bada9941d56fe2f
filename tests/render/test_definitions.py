"""The definitions: complete, without doubles, and right in the examples that can be worked out."""

from __future__ import annotations

import pytest
from scipy import stats

from pipeline.render.definitions import read_sections, read_terms
from tests.render.conftest import Rendered


def test_every_figure_shown_has_a_definition(rendered: Rendered) -> None:
    terms = read_terms()
    lacking = set(rendered.figures["total"]) | set(rendered.figures["machines"][0]) - {"machine"}
    lacking -= set(terms) | {"machine"}
    # The two bounds are defined together.
    assert lacking <= {"continuity_low", "continuity_high"}
    assert "continuity_bounds" in terms


def test_no_term_twice() -> None:
    ids = [term.id for section in read_sections() for term in section.terms]
    assert len(ids) == len(set(ids))


def test_worked_examples() -> None:
    terms = read_terms()
    # Garwood: half the chi-square quantiles, at 2·3 and 2·3 + 2 degrees of freedom; divided by 0.6 thousand hours.
    low, high = stats.chi2.ppf(0.025, 6) / 2, stats.chi2.ppf(0.975, 8) / 2
    example = terms["protect_switches_per_1000_air_h"].example
    assert f"limits {low / 0.6:.2f} to {high / 0.6:.1f}" in example
    assert f"from a mean of {low:.2f} to {high:.2f}" in example
    limits = stats.binomtest(5, 7).proportion_ci(0.95, "exact")
    assert f"limits {100 * limits.low:.0f} % to {100 * limits.high:.0f} %" in terms["demands_met"].example
    # 1 − 36 / 356,400 = 0.9998990 and, with the unknown hour lost, 1 − 3,636 / 360,000 = 0.98990.
    assert pytest.approx(0.999899, abs=5e-7) == 1 - 36 / 356_400
    assert "99.989 %" in terms["continuity"].example
    assert "low 98.990 %, high 99.990 %" in terms["continuity_bounds"].example
