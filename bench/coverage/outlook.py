"""Does the outlook keep its word? Rooms whose truth is known, through the same judging as a real one.

Steady rooms give the coverage of the year's forecasts, of the replay, and how often anybody is named without cause.
Rooms with one machine that wears, improves or doubles its rate say what the outlook finds, and what it misses.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy import stats

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_between
from pipeline.measure.transports.outlook.measuring import judge_outlook
from pipeline.measure.transports.outlook.reading import Material, Sign, Watch
from pipeline.measure.transports.outlook.trend import LEAST_EVENTS, LEVEL
from pipeline.measure.transports.outlook.warning import ALARM_CHANCE
from pipeline.statistics import poisson_prediction_limits

WEEKS = 26
WEEK_DAYS = 7
WEEK_SPAN_H = 168.0
CUT_WEEK = 17  # the replay is fitted on so many of the weeks
HOURS_A_WEEK = (10.0, 4.0, 9.0, 5.0, 10.0, 4.5, 9.5, 4.5)  # of eight machines, on average
RATE = 0.05  # protect switches an hour on air
YEARS = 365.25 / (WEEKS * WEEK_DAYS)  # the year ahead, in spans of the record
LOSS_SHARE, LOSS_MEAN_S, LOSS_SPREAD = 0.85, 6.0, 1.0  # of switches that lose air; of the log of what they lose
START_WEEKS = 26
TESTS = 34  # two trend tests of eight machines and of the room, two signs of each machine
NAMED_AT_MOST = 0.08  # share of changed machines whose own curve is taken for the forecast, at most
CHANGED = 0  # the machine that changes, the one with most hours
Array = NDArray[np.float64]


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Claims from ``rooms`` // 2 steady rooms and ``rooms`` // 5 of each kind with a machine that changes."""
    draw = np.random.default_rng(seed)
    return [
        *_steady_claims(max(rooms // 2, 1), draw),
        *_power_law_claims(max(rooms // 5, 1), draw, beta=0.7),
        *_power_law_claims(max(rooms // 5, 1), draw, beta=1.5),
        *_doubling_claims(max(rooms // 5, 1), draw),
    ]


def _steady_claims(rooms: int, draw: Generator) -> list[Claim]:
    seen: Counter[str] = Counter()
    for _ in range(rooms):
        watches = [_steady(draw, place) for place in range(len(HOURS_A_WEEK))]
        found = judge_outlook(_material(draw, watches))
        seen.update(_hits_of(found, [draw.poisson(RATE * watch.end_h * YEARS) for watch in watches], draw))
        seen.update(_names_of(found))
    machines = rooms * len(HOURS_A_WEEK)
    kept = "of a steady room fall inside the 95 % limits"
    return [
        claim_at_least(f"The year's protect switches of a machine {kept}", seen["machine"], machines, 0.95),
        claim_at_least(f"The year's protect switches {kept}", seen["room"], rooms, 0.95),
        claim_at_least(f"The year's lost seconds of a machine {kept}", seen["lost"], machines, 0.95),
        claim_at_least(f"The year's lost seconds {kept}", seen["room lost"], rooms, 0.95),
        claim_at_least(f"In the replay, the rest of a machine's record {kept}", seen["replay"], seen["tried"], 0.95),
        claim_at_most("A room of identical steady machines has anything named", seen["named"], rooms, 0.05),
        claim_at_most("A room of identical steady machines has any running sum alarm", seen["alarm"], rooms, 0.025),
        claim_at_most("A room of identical steady machines has any trend or sign named", seen["trend"], rooms, 0.025),
    ]  # fmt: skip


def _hits_of(found: dict[str, Any], came: list[int], draw: Generator) -> Iterator[str]:
    costs = [float(_losses(draw, count).sum()) for count in came]
    for row, count, cost in zip(found["machines"], came, costs, strict=True):
        yield from ["machine"] * _inside(row["switches"], count)
        yield from ["lost"] * _inside(row["lost_s"], cost)
    yield from ["room"] * _inside(found["room"]["switches"], sum(came))
    yield from ["room lost"] * _inside(found["room"]["lost_s"], sum(costs))
    yield from ["replay"] * found["replay"]["inside_count"]
    yield from ["tried"] * len(found["replay"]["machines"])


def _names_of(found: dict[str, Any]) -> Iterator[str]:
    alarms = any(row["warning"]["is_alarm"] for row in found["machines"])
    trends = found["room"]["trend"]["is_named"] or any(
        row["trend"]["is_named"] or row["creeping"] for row in found["machines"]
    )
    yield from ["alarm"] * alarms
    yield from ["trend"] * trends
    yield from ["named"] * (alarms or trends)


def _inside(limits: dict[str, Any], came: float) -> bool:
    return limits["low"] is not None and bool(limits["low"] - 1e-6 <= came <= limits["high"] + 1e-6)


def _power_law_claims(rooms: int, draw: Generator, beta: float) -> list[Claim]:
    """One machine follows a power law with as many switches in the record as a steady one; the others are steady."""
    seen: Counter[str] = Counter()
    for _ in range(rooms):
        watches = [_steady(draw, place) for place in range(len(HOURS_A_WEEK))]
        weeks = watches[CHANGED].week_h
        expected = RATE * float(weeks.sum())
        places = draw.uniform(0, 1, draw.poisson(expected)) ** (1 / beta)
        watches[CHANGED] = _watch(CHANGED, weeks, places * weeks.sum())
        row = judge_outlook(_material(draw, watches))["machines"][CHANGED]
        came = draw.poisson(expected * ((1 + YEARS) ** beta - 1))
        seen.update(["inside"] * _inside(row["switches"], came) + ["named"] * row["is_named"])
        seen.update(["carried"] * _inside(row["carried_on"], came) if row["carried_on"] else ["untried"])
    what = f"a machine whose switches follow a power law with beta {beta}, about 13 of them in half a year,"
    carried = f"The same falls inside the limits for its own curve (beta {beta}) carried on"
    held, power = _steady_limits_hold(expected_count(CHANGED), beta), _handbook_power(expected_count(CHANGED), beta)
    return [
        claim_between(f"The next year of {what} falls inside its limits", seen["inside"], rooms, *_near(held)),
        claim_at_least(carried, seen["carried"], rooms - seen["untried"], 0.95),
        claim_at_least(f"In its half year, {what} is named", seen["named"], rooms, round(power, 4)),
    ]


def expected_count(place: int) -> float:
    """Switches expected of a machine in the record, at its mean hours."""
    return RATE * HOURS_A_WEEK[place] * WEEKS


def _near(share: float) -> tuple[float, float]:
    """Round the share that holds of machines taken as steady: the few that are named have other limits."""
    return max(0.0, round(share - NAMED_AT_MOST, 3)), min(1.0, round(share + NAMED_AT_MOST, 3))


def _steady_limits_hold(expected: float, beta: float) -> float:
    """The chance that steady limits hold a power law's next year, summed over every count of the record."""
    ahead = expected * ((1 + YEARS) ** beta - 1)
    share = 0.0
    for count in range(int(stats.poisson.isf(1e-9, expected)) + 1):
        low, high = poisson_prediction_limits(count, 1.0, YEARS)
        inside = stats.poisson.cdf(high, ahead) - stats.poisson.cdf(low - 1, ahead)
        share += float(stats.poisson.pmf(count, expected) * inside)
    return share


def _handbook_power(expected: float, beta: float) -> float:
    """The chance that the handbook test alone names it at the level over the number of tests: naming is no rarer."""
    level = LEVEL / TESTS
    power = 0.0
    for count in range(LEAST_EVENTS, int(stats.poisson.isf(1e-9, expected)) + 1):
        late, early = (float(stats.chi2.ppf(tail, 2 * count)) for tail in (level / 2, 1 - level / 2))
        caught = stats.chi2.cdf(beta * late, 2 * count) + stats.chi2.sf(beta * early, 2 * count)
        power += float(stats.poisson.pmf(count, expected) * caught)
    return power


def _doubling_claims(rooms: int, draw: Generator) -> list[Claim]:
    """One machine switches twice as often from the middle of the record on."""
    seen: Counter[str] = Counter()
    for _ in range(rooms):
        watches = [_steady(draw, place) for place in range(len(HOURS_A_WEEK))]
        weeks = watches[CHANGED].week_h
        half = float(weeks[: WEEKS // 2].sum())
        late = half + draw.uniform(0, weeks.sum() - half, draw.poisson(RATE * (weeks.sum() - half)))
        watches[CHANGED] = _watch(CHANGED, weeks, np.append(watches[CHANGED].events_h, late))
        row = judge_outlook(_material(draw, watches))["machines"][CHANGED]
        seen.update(["alarm"] * row["warning"]["is_alarm"] + ["named"] * row["is_named"])
    what = "A machine whose rate doubles in the middle of half a year, with 13 switches expected in it before,"
    return [
        claim_at_least(f"{what} is named by the end", seen["named"], rooms, LEVEL + ALARM_CHANCE),
        claim_at_least(f"{what} sets off the running sum by the end", seen["alarm"], rooms, ALARM_CHANCE),
    ]


def _steady(draw: Generator, place: int) -> Watch:
    weeks = HOURS_A_WEEK[place] * draw.uniform(0.5, 1.5, WEEKS)
    return _watch(place, weeks, draw.uniform(0, weeks.sum(), draw.poisson(RATE * weeks.sum())))


def _watch(place: int, weeks: Array, events_h: Array) -> Watch:
    return Watch(
        machine=f"T{place + 1}",
        events_h=np.sort(events_h),
        end_h=float(weeks.sum()),
        cut_h=float(weeks[:CUT_WEEK].sum()),
        watched_h=WEEKS * WEEK_SPAN_H,
        week_no=np.arange(WEEKS),
        week_h=weeks,
    )


def _material(draw: Generator, watches: list[Watch]) -> Material:
    days = np.asarray(WEEK_DAYS * (np.arange(START_WEEKS) + 0.5), dtype=np.float64)
    signs = [
        Sign(
            watch.machine,
            name,
            days,
            _readings(draw, level),
            START_WEEKS,
            by_week=False,
        )
        for watch in watches
        for name, level in (("lock", 3.4), ("offset", 0.15))
    ]
    return Material(
        watches=tuple(watches),
        losses_s=np.sort(_losses(draw, sum(watch.events_h.size for watch in watches))),
        span_h=WEEKS * WEEK_SPAN_H,
        cut_day=WEEK_DAYS * float(CUT_WEEK),
        signs=tuple(signs),
    )


def _readings(draw: Generator, level: float) -> Array:
    """A sign's readings that do not creep, with a spread of one part in twenty."""
    return np.asarray(level * draw.lognormal(0, 0.05, START_WEEKS), dtype=np.float64)


def _losses(draw: Generator, count: int) -> Array:
    """Seconds lost with each of ``count`` switches: some nothing, the others log-normal, with a heavy tail."""
    shift = np.log(LOSS_MEAN_S) - LOSS_SPREAD**2 / 2
    return np.where(draw.uniform(size=count) < LOSS_SHARE, draw.lognormal(shift, LOSS_SPREAD, count), 0.0)
