"""Run lengths of a Poisson CUSUM against Lucas's tables, closed forms and simulated paths."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from pipeline.statistics import cusum_alarm_chance, cusum_height, poisson_cusum, poisson_cusum_run_length, run_length

Agrees = Callable[..., None]


def test_lucas_tables(agrees: Agrees) -> None:
    # Lucas (1985), Technometrics 27:129-144, Tables 2 and 3, quoted on the help page of the CRAN package spc: k = 0.25,
    # h = 10, in-control mean 0.25; precise values by spc::pois.cusum.arl.
    agrees(poisson_cusum_run_length(0.25, 0.25, 10), "438", 438.1249995)
    agrees(poisson_cusum_run_length(0.25, 0.25, 10, start=5), "333", 333.1248085)
    agrees(poisson_cusum_run_length(0.5, 0.25, 10), None, 39.91376827)
    agrees(poisson_cusum_run_length(1.0, 0.25, 10), None, 14.15512638)


def test_a_height_that_one_event_reaches_waits_for_the_first() -> None:
    # k = 1/40, h = 0.9: the first period with an event alarms, so the run length is 1 / (1 - exp(-mean)).
    assert poisson_cusum_run_length(0.3, 0.025, 0.9) == pytest.approx(1 / (1 - math.exp(-0.3)), rel=1e-9)


def test_simulated_paths_run_as_long() -> None:
    draw, mean, reference, lengths = np.random.default_rng(5), 0.6, 0.9, []
    bad = 1.2  # in control 0.6 against 1.2: k = 0.6 / ln 2 = 0.8656, close to the 0.9 used below
    for _ in range(2000):
        path, length = 0.0, 0
        while path < 3.0 - 1e-9:
            path, length = max(0.0, path + draw.poisson(bad) - reference), length + 1
        lengths.append(length)
    error = float(np.std(lengths)) / math.sqrt(len(lengths))
    assert poisson_cusum_run_length(bad, reference, 3.0) == pytest.approx(np.mean(lengths), abs=3.5 * error)
    assert poisson_cusum_run_length(mean, reference, 3.0) > 5 * np.mean(lengths)


def test_any_event_alarms_at_a_height_of_one() -> None:
    # P(any event) = 1 - exp(-expected); at expected = ln 2, twenty whole steps, exactly a half.
    assert cusum_alarm_chance([math.log(2), 0.0], 2.0, 1.0) == pytest.approx([0.5, 0.0], abs=1e-6)


@pytest.mark.parametrize(("expected", "h"), [(5.0, 4.0), (30.0, 5.0)])
def test_chance_of_an_alarm_is_that_of_simulated_paths_or_a_little_more(expected: float, h: float) -> None:
    draw, rooms, hits = np.random.default_rng(8), 6000, 0
    k = 1 / math.log(2)
    for _ in range(rooms):
        path, last = 0.0, 0.0
        for at in np.sort(draw.uniform(0, expected, draw.poisson(expected))):
            path, last = max(0.0, path - k * (at - last)) + 1.0, at
            if path >= h:
                hits += 1
                break
    error = 3 * math.sqrt(hits / rooms * (1 - hits / rooms) / rooms)
    assert hits / rooms - error <= cusum_alarm_chance([expected], 2.0, h)[0] <= 1.15 * hits / rooms + error


def test_a_sum_by_weeks_alarms_no_more_often() -> None:
    # The same rate watched in weeks of uneven hours, through poisson_cusum itself.
    draw, rooms, hits = np.random.default_rng(9), 3000, 0
    weeks = np.array([0.2, 1.5, 0.0, 1.0, 2.3, 0.5, 1.5, 1.0])  # 8 expected
    for _ in range(rooms):
        hits += bool(poisson_cusum(draw.poisson(weeks), weeks, 1.0, 2.0, 4.0)[1].any())
    error = 3 * math.sqrt(hits / rooms / rooms)
    assert hits / rooms <= cusum_alarm_chance([8.0], 2.0, 4.0)[0] + error


def test_a_long_watch_is_carried_on_from_the_settled_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = cusum_alarm_chance([20.0, 120.0], 2.0, 4.0)
    monkeypatch.setattr(run_length, "_SETTLED", 40.0)
    assert cusum_alarm_chance([20.0, 120.0], 2.0, 4.0) == pytest.approx(whole, rel=1e-6)


def test_the_height_is_the_least_that_keeps_the_chance() -> None:
    watches = [5.0, 5.0, 12.0, 0.0]
    h = cusum_height(watches, 2.0, 0.05)
    any_alarm = [1 - np.prod(1 - cusum_alarm_chance(watches, 2.0, height)) for height in (h, h - 0.05)]
    assert any_alarm[0] <= 0.05 < any_alarm[1]
    assert cusum_height([0.0], 2.0, 0.05) == 0.05


def test_refused() -> None:
    with pytest.raises(ValueError, match='start is "10"'):
        poisson_cusum_run_length(0.25, 0.25, 10, start=10)
    with pytest.raises(ValueError, match='ratio is "1'):
        cusum_alarm_chance([1.0], 1.0, 4.0)
    with pytest.raises(ValueError, match='chance is "1'):
        cusum_height([1.0], 2.0, 1.0)
    with pytest.raises(ValueError, match="reference"):
        poisson_cusum_run_length(0.25, 0.0, 10)
