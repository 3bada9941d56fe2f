"""The definitions: complete, without doubles, and right in the examples that can be worked out."""

from __future__ import annotations

import math

import pytest
from scipy import optimize, stats

from pipeline.render.definitions import read_sections, read_terms
from pipeline.render.language import speaking
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


def example(term: str) -> str:
    return read_terms()[term].example


def test_every_term_has_a_worked_example() -> None:
    assert [term.id for term in read_terms().values() if not term.example] == []


def test_examples_of_rates_and_tests() -> None:
    # 6 of 9 switches in a third of the hours; a limit of the share as a ratio: share / (1 − share) × 400 / 200.
    share = stats.binomtest(6, 9).proportion_ci(0.95, "exact")
    low, high = (2 * limit / (1 - limit) for limit in (share.low, share.high))
    assert f"4.0 times, limits {low:.2f} to {high:.1f}" in example("rate_comparison")
    # Given 9, both tails: twice the smaller one, P(6 or more of 9) = 0.0424.
    assert f"p = {2 * stats.binom.sf(5, 9, 1 / 3):.3f}" in example("rate_comparison")
    # Of 20 in halves, 15 is the least count with a two-sided exact p below 0.05.
    assert stats.binomtest(14, 20).pvalue > 0.05
    assert f"p = {stats.binomtest(15, 20).pvalue:.3f}" in example("care_power")
    found = optimize.brentq(lambda one: stats.binom.sf(14, 20, one) - 0.8, 0.5, 0.99)
    assert (round(found, 2), round(found / (1 - found))) == (0.80, 4)
    # Two or more of 50 with a chance of 80 %.
    doubles = optimize.brentq(lambda one: stats.binom.sf(1, 50, one) - 0.8, 0.001, 0.3)
    assert f"where {100 * doubles:.1f} % are doubles" in example("least_share")
    assert f"{200 * doubles / (1 + doubles):.0f} %" in example("least_share")
    assert f"p = {stats.poisson.sf(1, 0.1):.3f}" in example("least_share")


def test_examples_of_money_and_redundancy() -> None:
    low, high = stats.chi2.ppf(0.025, 4) / 2, stats.chi2.ppf(0.975, 6) / 2
    assert f"from a mean of {low:.3f} to {high:.2f}" in example("case_limits")
    assert f"limits {5000 + 1000 * round(low, 3):,.0f} to {5000 + 1000 * round(high, 2):,.0f}" in example("case_limits")
    # Two units, one of them enough, both mended at once: balance of flows at lambda 0.01, mu 10, beta 0.05.
    part = 0.05 * 0.01 * 0.1 / 2 + (0.95 * 0.01 * 0.1) ** 2
    assert f"{part:.6f} of the time" in example("neither_a_year")
    assert round(part * 2000 * 60) == 3


def test_examples_of_lives() -> None:
    assert f"{607 * (-math.log(0.9)) ** (1 / 1.72):.0f} h" in example("part_b10")
    assert f"{100 * math.exp(0.25 - 0.36):.0f} %" in example("part_chance")
    early = stats.binomtest(2, 20).proportion_ci(0.95, "exact")
    assert f"limits {100 * early.low:.1f} % to {100 * early.high:.0f} %" in example("part_early")
    assert f"p = {stats.chi2.sf(1, 1):.2f}" in example("part_machines")

    def beyond(x: float) -> float:
        """Hazard 2 x / scale × mean life up to x scales − share failed, for a Weibull life of shape 2."""
        return 2 * x * math.sqrt(math.pi) / 2 * math.erf(x) - (1 - math.exp(-x * x)) - 0.25

    assert f"reached at {1000 * optimize.brentq(beyond, 0.1, 2):.0f} h" in example("part_age")


def test_examples_of_the_year_ahead() -> None:
    laplace = (75 - 50) / (100 / math.sqrt(48))
    assert f"= {laplace:.2f}, p = {2 * stats.norm.sf(laplace):.3f}" in example("outlook_trend")
    logs = [math.log(100 / age) for age in (60, 70, 80, 90)]
    assert f"4 / ({' + '.join(f'{log:.3f}' for log in logs)}) = {4 / sum(logs):.1f}" in example("outlook_beta")
    kept = [
        count
        for count in range(60)
        if stats.binom.cdf(count, 12 + count, 1 / 3) > 0.025 and stats.binom.sf(count - 1, 12 + count, 1 / 3) > 0.025
    ]
    assert f"limits {kept[0]} to {kept[-1]}" in example("outlook_replay")


def test_definitions_in_german_write_numbers_as_there() -> None:
    with speaking("de", "de-DE"):
        terms = read_terms()
        assert terms["lost_s"].name == "Ausgefallen"
        assert "99,989 %" in terms["continuity"].example
        assert [term.id for term in terms.values() if "for example" in term.words.lower()] == []
    assert read_terms()["lost_s"].name == "Lost"
