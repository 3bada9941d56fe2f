"""Machines that get better or worse: limits of the growth, of the time between failures now, and of the mean history.

The limits of the power law are exact where one system, or several to the same end, are watched; with ends apart, and
for the mean cumulative function, they are those of large samples.
"""

from collections.abc import Sequence

import numpy as np

from bench.coverage.claims import Claim, claim_at_least, claim_between, claim_exactly
from pipeline.statistics import (
    CumulativeTable,
    PowerLawFit,
    confidence_for_few,
    mean_cumulative_function,
    power_law_process,
)
from pipeline.statistics.arguments import FloatArray

_END_H = 1_000.0
_Watch = list[tuple[FloatArray, float]]


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the power law and the mean cumulative function against histories whose law is known."""
    draws = np.random.default_rng([seed, 3])
    return [
        *(claim for case in ((1.0, 5.0), (0.7, 12.0), (1.8, 30.0)) for claim in _to_a_time(draws, rooms, *case)),
        *(claim for failures in (5, 12) for claim in _to_a_failure(draws, rooms, failures)),
        *(_ends_apart(draws, rooms, *case) for case in ((1.0, 5.0), (1.0, 20.0), (1.5, 20.0))),
        *(claim for case in ((5, 0.0), (10, 0.0), (24, 0.0), (24, 0.5)) for claim in _cover_mean(draws, rooms, *case)),
    ]


def _to_a_time(draws: np.random.Generator, rooms: int, beta: float, expected: float) -> list[Claim]:
    """One system watched to a set time; a room without a failure has nothing to fit and is drawn again."""
    fits = [
        power_law_process(_END_H * draws.uniform(size=count) ** (1.0 / beta), _END_H, 0.95)
        for count in _draw_counts(draws, rooms, expected)
    ]
    case = f"one machine to a set time, beta {beta:g}, {expected:g} failures expected"
    return [
        claim_exactly(f"95 % limits of beta cover it; {case}", _count_beta(fits, beta), rooms, 0.95),
        claim_at_least(
            f"95 % limits of the time between failures now cover it; {case}",
            _count_mtbf(fits, _END_H / (expected * beta)),
            rooms,
            0.95,
        ),
    ]


def _draw_counts(draws: np.random.Generator, rooms: int, expected: float) -> Sequence[int]:
    counts = draws.poisson(expected, rooms)
    while (counts == 0).any():
        counts[counts == 0] = draws.poisson(expected, int((counts == 0).sum()))
    return [int(count) for count in counts]


def _to_a_failure(draws: np.random.Generator, rooms: int, failures: int) -> list[Claim]:
    """One system watched to its last failure: expected failures by then are a sum of unit exponentials."""
    beta = 1.3
    histories = _END_H * np.cumsum(draws.exponential(size=(rooms, failures)), axis=1) ** (1.0 / beta)
    fits = [power_law_process(ages, None, 0.95) for ages in histories]
    now = histories[:, -1] ** (1.0 - beta) * _END_H**beta / beta
    inside = sum(fit.mtbf_low <= truth <= fit.mtbf_high for fit, truth in zip(fits, now, strict=True))
    case = f"one machine to its failure {failures}, beta {beta:g}"
    return [
        claim_exactly(f"95 % limits of beta cover it; {case}", _count_beta(fits, beta), rooms, 0.95),
        claim_exactly(f"95 % limits of the time between failures now cover it; {case}", inside, rooms, 0.95),
    ]


def _ends_apart(draws: np.random.Generator, rooms: int, beta: float, expected: float) -> Claim:
    """Three systems watched to a third, two thirds and all of the time; `expected` failures of all together."""
    ends = _END_H * np.array([1.0, 2.0, 3.0]) / 3.0
    shares = (ends / _END_H) ** beta
    each = expected * shares / shares.sum()
    fits = [_fit_apart(draws, beta, ends, each) for _ in range(rooms)]
    what = (
        "95 % limits of the time between failures now cover it; three machines whose ends lie apart, "
        f"beta {beta:g}, {expected:g} failures expected"
    )
    return claim_between(what, _count_mtbf(fits, _END_H / (each[-1] * beta)), rooms, 0.93, 0.97)


def _fit_apart(draws: np.random.Generator, beta: float, ends: FloatArray, each: FloatArray) -> PowerLawFit:
    counts = draws.poisson(each)
    while counts.sum() == 0:
        counts = draws.poisson(each)
    watch: _Watch = [
        (end * draws.uniform(size=count) ** (1.0 / beta), float(end)) for end, count in zip(ends, counts, strict=True)
    ]
    return power_law_process(watch, confidence=0.95)


def _count_beta(fits: Sequence[PowerLawFit], beta: float) -> int:
    return sum(fit.beta_low <= beta <= fit.beta_high for fit in fits)


def _count_mtbf(fits: Sequence[PowerLawFit], mtbf: float) -> int:
    return sum(fit.mtbf_low <= mtbf <= fit.mtbf_high for fit in fits)


def _cover_mean(draws: np.random.Generator, rooms: int, machines: int, apart: float) -> list[Claim]:
    """Histories of one failure in 1,000 h a machine, ended between 1,000 and 2,000 h; looked at 900 h.

    The wider limits are those of the page on the year ahead. They may cover too often: below ten machines they do.
    """
    plain = wider = looked_at = 0
    for _ in range(rooms):
        histories = _draw_histories(draws, machines, apart)
        table = mean_cumulative_function(histories)
        row = int(np.searchsorted(table.age, 0.9 * _END_H, side="right")) - 1
        looked_at += row >= 0
        plain += _holds(table, row)
        wider += _holds(mean_cumulative_function(histories, confidence_for_few(0.95, machines)), row)
    spread = f", true rates {apart:.0%} apart" if apart else ""
    what = f"95 % limits of the mean failures by an age cover them; {machines} machines{spread}, 0.9 failures of each"
    return [
        claim_between(what, plain, looked_at, 0.93, 0.97),
        claim_at_least(f"{what}, widened for few machines", wider, looked_at, 0.95),
    ]


def _holds(table: CumulativeTable, row: int) -> bool:
    return bool(row >= 0 and table.low[row] <= 0.9 <= table.high[row])


def _draw_histories(draws: np.random.Generator, machines: int, apart: float) -> _Watch:
    ends = draws.uniform(_END_H, 2.0 * _END_H, machines)
    rates = draws.gamma(apart**-2.0, apart**2.0, machines) if apart else np.ones(machines)
    counts = draws.poisson(rates * ends / _END_H)
    return [(draws.uniform(0.0, end, count), float(end)) for end, count in zip(ends, counts, strict=True)]
