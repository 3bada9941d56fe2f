"""Limits of counts, shares, ratios and times between failures, and the false alarms of tests on counts.

Every limit here is exact: it must cover the truth at least as often as it says, however few the events. Limits depend
on the count alone, so each count met is worked out once and weighed with the rooms that drew it.
"""

import numpy as np

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_exactly
from pipeline.statistics import (
    benjamini_hochberg,
    laplace_test,
    military_handbook_test,
    mtbf_limits,
    poisson_limits,
    proportion_limits,
    rate_ratio,
    u_chart,
)
from pipeline.statistics.arguments import FloatArray, IntArray

_AIR_H = 1_000.0


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold every exact limit and every test of a constant rate against rooms whose rate is known."""
    draws = np.random.default_rng([seed, 1])
    return [
        *(_cover_rate(draws, rooms, expected) for expected in (0.5, 2.0, 5.0, 20.0)),
        *(_cover_share(draws, rooms, *case) for case in ((10, 0.9), (30, 0.05), (200, 0.5))),
        *(claim for case in ((3.0, 1.0), (10.0, 2.0), (2.0, 0.2)) for claim in _cover_ratio(draws, rooms, *case)),
        *(_cover_mtbf_to_time(draws, rooms, expected) for expected in (1.0, 5.0, 20.0)),
        *(_cover_mtbf_to_failure(draws, rooms, failures) for failures in (1, 5, 20)),
        *(_chart_false_alarms(draws, rooms, expected) for expected in (2.0, 10.0, 40.0)),
        *(claim for failures in (4, 10, 30) for claim in _trend_false_alarms(draws, rooms, failures)),
        *_false_names(draws, rooms),
    ]


def _cover_rate(draws: np.random.Generator, rooms: int, expected: float) -> Claim:
    rate = expected / _AIR_H
    seen, times = np.unique(draws.poisson(expected, rooms), return_counts=True)
    inside = [_lies_within(poisson_limits(int(count), _AIR_H), rate) for count in seen]
    what = f"95 % limits of a rate cover it; {expected:g} events expected"
    return claim_at_least(what, int(times[inside].sum()), rooms, 0.95)


def _cover_share(draws: np.random.Generator, rooms: int, trials: int, share: float) -> Claim:
    seen, times = np.unique(draws.binomial(trials, share, rooms), return_counts=True)
    inside = [_lies_within(proportion_limits(int(count), trials), share) for count in seen]
    what = f"95 % limits of a share cover it; {trials} demands, {share:g} of them met"
    return claim_at_least(what, int(times[inside].sum()), rooms, 0.95)


def _cover_ratio(draws: np.random.Generator, rooms: int, expected: float, ratio: float) -> list[Claim]:
    """Machine a runs half as long as machine b, at `ratio` times its rate; b expects `expected` events."""
    pairs = np.column_stack([draws.poisson(expected * ratio / 2.0, rooms), draws.poisson(expected, rooms)])
    seen, times = np.unique(pairs, axis=0, return_counts=True)
    found = [rate_ratio(int(a), _AIR_H / 2.0, int(b), _AIR_H) for a, b in seen]
    case = f"{expected * ratio / 2.0:g} and {expected:g} events expected"
    inside = [_lies_within((low, high), ratio) for _, low, high, _ in found]
    covers = claim_at_least(
        f"95 % limits of the ratio of two rates cover it; {case}, ratio {ratio:g}",
        int(times[inside].sum()),
        rooms,
        0.95,
    )
    if ratio != 1.0:
        return [covers]
    alarms = int(times[[p < 0.05 for *_, p in found]].sum())
    return [covers, claim_at_most(f"two machines of one rate are told apart, p < 0.05; {case}", alarms, rooms, 0.05)]


def _cover_mtbf_to_time(draws: np.random.Generator, rooms: int, expected: float) -> Claim:
    seen, times = np.unique(draws.poisson(expected, rooms), return_counts=True)
    inside = [_lies_within(mtbf_limits(int(count), _AIR_H, 0.95), _AIR_H / expected) for count in seen]
    what = f"95 % limits of a mean time between failures cover it; to a set time, {expected:g} failures expected"
    return claim_at_least(what, int(times[inside].sum()), rooms, 0.95)


def _cover_mtbf_to_failure(draws: np.random.Generator, rooms: int, failures: int) -> Claim:
    """The time of the last failure is a gamma variable; limits are proportional to it."""
    taken_h = draws.gamma(failures, _AIR_H, rooms)
    low, high = mtbf_limits(failures, 1.0, 0.95, "failure")
    hits = int(((low * taken_h <= _AIR_H) & (high * taken_h >= _AIR_H)).sum())
    what = f"95 % limits of a mean time between failures cover it; to the failure that is number {failures}"
    return claim_exactly(what, hits, rooms, 0.95)


def _chart_false_alarms(draws: np.random.Generator, rooms: int, expected: float) -> Claim:
    """Twelve months of one rate a room; one of them, drawn blindly, is looked at, so that looks are independent."""
    hours = draws.uniform(0.5, 1.5, (rooms, 12)) * _AIR_H
    counts = draws.poisson(expected * hours / _AIR_H)
    looked_at = draws.integers(0, 12, rooms)
    alarms = sum(_signals(*room) for room in zip(counts, hours, looked_at, strict=True) if room[0].any())
    what = f"a month signals on the chart though nothing changed; {expected:g} events a month expected"
    return claim_at_most(what, alarms, rooms, 0.0027)


def _signals(counts: IntArray, hours: FloatArray, month: int) -> bool:
    _, low, high = u_chart(counts, hours)
    rate = counts[month] / hours[month]
    return bool(rate < low[month] or rate > high[month])


def _trend_false_alarms(draws: np.random.Generator, rooms: int, failures: int) -> list[Claim]:
    """Failures of a constant rate lie evenly on the hours watched, given how many they are."""
    ages = draws.uniform(0.0, _AIR_H, (rooms, failures))
    laplace = sum(laplace_test(own, _AIR_H)[1] < 0.05 for own in ages)
    handbook = sum(military_handbook_test(own, _AIR_H)[1] < 0.05 for own in ages)
    case = f"calls a constant rate a trend, p < 0.05; {failures} failures"
    return [
        claim_at_most(f"Laplace's test {case}", laplace, rooms, 0.05),
        claim_exactly(f"the military handbook's test {case}", handbook, rooms, 0.05),
    ]


def _false_names(draws: np.random.Generator, rooms: int) -> list[Claim]:
    """Ten machines, each tested once: all alike, then three of them different.

    One of the names called in a room is drawn blindly; how often it is false is the share of false names that the
    adjustment keeps, of independent tests exactly 0.05 times the share of machines that are alike.
    """
    alike, mixed = draws.uniform(size=(rooms, 10)), draws.uniform(size=(rooms, 10))
    mixed[:, :3] **= 10.0
    named = sum(bool((benjamini_hochberg(p) < 0.05).any()) for p in alike)
    called = [np.flatnonzero(benjamini_hochberg(p) < 0.05) for p in mixed]
    false = sum(int(draws.choice(names)) >= 3 for names in called if names.size)
    return [
        claim_exactly("some machine of ten alike is named, adjusted p < 0.05", named, rooms, 0.05),
        claim_exactly("a name drawn from those called is false; three machines of ten differ", false, rooms, 0.035),
    ]


def _lies_within(limits: tuple[float, float], truth: float) -> bool:
    return limits[0] <= truth <= limits[1]
