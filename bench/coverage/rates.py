"""Naming a transport, power, seen over expected and evened rates, in rooms of eight transports whose truth is known.

Every room passes through the functions that judge a real one (`pipeline.measure.transports.rates.judging`): both duties
are tested together, and a transport is named only where its p, adjusted over all of them, is below 0.05.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_between, claim_near
from pipeline.measure.transports.rates.judging import (
    LEVEL,
    even_rates,
    judge_scatter,
    name_machines,
    standardise,
    what_shows,
)
from pipeline.measure.transports.rates.work import Work
from pipeline.statistics import rate_ratio_power
from pipeline.statistics.arguments import FloatArray, IntArray

_MACHINES = 8
_AIR_RATE, _COVER_RATE = 0.040, 0.030  # protect switches an air hour, losses of cover a protect hour
_NAMES = tuple(f"T{number}" for number in range(1, _MACHINES + 1))
_TESTS = 2 * _MACHINES
_SPAN_H = 2_191.5  # three months
_CLASSES = np.array([0.3, 0.7, 1.0, 2.0])  # the rates of four classes of work, in times the room's
_EVENED_ROOMS = 500  # weighing every spread takes long


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold names, power and limits against eight transports with 100 to 400 h of air and as much as protect."""
    draws = np.random.default_rng([seed, 6])
    return [
        _name_alike(draws, rooms),
        _name_alike_with_uneven_work(draws, rooms),
        *(_find_the_worse(draws, rooms, ratio) for ratio in (2.0, 3.0)),
        _find_at_detectable(draws, rooms),
        *_cover_standardised(draws, rooms),
        *_cover_evened(draws, min(rooms, _EVENED_ROOMS)),
        *(_call_scattered(draws, rooms, months) for months in (3, 12)),
        _find_clusters(draws, rooms),
        _name_in_clusters(draws, rooms),
    ]


def _work(measure: str, counts: IntArray, hours: FloatArray) -> Work:
    """A room's work in classes, shape (machines, classes); one event, one occasion."""
    classes = tuple((f"class {number}", "") for number in range(hours.shape[1]))
    total = counts.sum(axis=1)
    return Work(measure, _NAMES, total, total, hours.sum(axis=1), counts, hours, classes)


def _both_duties(draws: np.random.Generator, times: FloatArray) -> list[Work]:
    """One room; ``times`` is each transport's rate on air in times the room's. As protect all are alike."""
    air_h, protect_h = draws.uniform(100.0, 400.0, (2, _MACHINES, 1))
    return [
        _work("air", draws.poisson(_AIR_RATE * times[:, None] * air_h), air_h),
        _work("protect", draws.poisson(_COVER_RATE * protect_h), protect_h),
    ]


def _is_any_named(room: list[Work]) -> bool:
    return any(row["is_named"] for own in name_machines(room) for row in own)


def _name_alike(draws: np.random.Generator, rooms: int) -> Claim:
    hits = sum(_is_any_named(_both_duties(draws, np.ones(_MACHINES))) for _ in range(rooms))
    what = "a transport is named on the page though all eight are alike; 100 to 400 h each, 40 switches per 1,000 h"
    return claim_at_most(what, hits, rooms, LEVEL)


def _name_alike_with_uneven_work(draws: np.random.Generator, rooms: int) -> Claim:
    """All alike but given uneven work: seen over expected, unadjusted, is asked of one transport a room."""
    hits = 0
    for _ in range(rooms):
        work = _uneven(draws, np.ones(_MACHINES))
        limits = standardise(work, 0)["standardised"]
        hits += limits is not None and not _holds(limits, 1.0)
    what = "limits of seen over expected leave out 1 though only the work differs; hard at seven times easy"
    return claim_at_most(what, hits, rooms, 0.05)


def _find_the_worse(draws: np.random.Generator, rooms: int, ratio: float) -> Claim:
    """One transport of eight is worse; all have the same hours, so that the power is one number."""
    hours = np.full((_MACHINES, 1), 300.0)
    times = np.ones(_MACHINES)
    times[0] = ratio
    hits = 0
    for _ in range(rooms):
        air = _work("air", draws.poisson(_AIR_RATE * times[:, None] * hours), hours)
        protect = _work("protect", draws.poisson(_COVER_RATE * hours), hours)
        p = name_machines([air, protect])[0][0]["p"]
        hits += p is not None and p < LEVEL / _TESTS
    power = rate_ratio_power(ratio, 300.0, 300.0 * (_MACHINES - 1), _AIR_RATE, level=LEVEL / _TESTS)
    what = f"a transport with {ratio:g} times the others' switches has p below 0.05 / 16; eight with 300 h each"
    return claim_near(what, hits, rooms, power)


def _find_at_detectable(draws: np.random.Generator, rooms: int) -> Claim:
    """The ratio that the page says is found with a chance of 0.8 is the truth: is it named so often, or oftener?"""
    hours = np.full((_MACHINES, 1), 200.0)
    expected = _work("air", np.full((_MACHINES, 1), round(_AIR_RATE * 200.0)), hours)
    ratio = what_shows(expected, 0, level=LEVEL / _TESTS, span_h=_SPAN_H)["detectable_ratio"]
    times = np.ones(_MACHINES)
    times[0] = ratio
    hits = 0
    for _ in range(rooms):
        air = _work("air", draws.poisson(_AIR_RATE * times[:, None] * hours), hours)
        hits += name_machines([air, _work("protect", draws.poisson(_COVER_RATE * hours), hours)])[0][0]["is_named"]
    what = f"a transport as far out as the page says it finds, {ratio:.2f} times, is named; eight with 200 h each"
    return claim_at_least(what, hits, rooms, 0.8)


def _uneven(draws: np.random.Generator, times: FloatArray) -> Work:
    """Work of four classes, shared out unevenly: a transport may have mostly hard or mostly easy hours."""
    share = draws.dirichlet(np.full(_CLASSES.size, 1.0), _MACHINES)
    hours = draws.uniform(100.0, 400.0, (_MACHINES, 1)) * share
    return _work("air", draws.poisson(_AIR_RATE * times[:, None] * _CLASSES * hours), hours)


def _cover_standardised(draws: np.random.Generator, rooms: int) -> list[Claim]:
    """The truth: what is seen on average of the room's events in each class, over what is expected of the hours."""
    claims = []
    for ratio in (1.0, 3.0):
        times = np.ones(_MACHINES)
        times[0] = ratio
        hits = 0
        for _ in range(rooms):
            work = _uneven(draws, times)
            found = standardise(work, 0)
            limits = found["standardised"]
            hits += limits is None or _holds(limits, _true_ratio(work, ratio) / found["expected"])
        what = f"95 % limits of seen over expected cover it; uneven work, {ratio:g} times the others' rate"
        claims.append(claim_at_least(what, hits, rooms, 0.95))
    return claims


def _true_ratio(work: Work, ratio: float) -> float:
    """The mean of the first transport's count given the room's counts in each class."""
    own, room = work.class_hours[0], work.class_hours.sum(axis=0)
    share = ratio * own / (ratio * own + room - own)
    return float((share * work.class_counts.sum(axis=0)).sum())


def _holds(limits: dict[str, float | None], truth: float) -> bool:
    return float(limits["low"] or 0.0) <= truth and (limits["high"] is None or truth <= limits["high"])


def _cover_evened(draws: np.random.Generator, rooms: int) -> list[Claim]:
    """True rates differ as a gamma law, by a half of their mean; and all alike, where there is no spread to find."""
    claims = []
    for words, shape in (("true rates spread by a half of their mean", 4.0), ("true rates all alike", None)):
        hits = 0
        for _ in range(rooms):
            times = np.ones(_MACHINES) if shape is None else draws.gamma(shape, 1.0 / shape, _MACHINES)
            hours = draws.uniform(100.0, 400.0, (_MACHINES, 1))
            work = _work("air", draws.poisson(_AIR_RATE * times[:, None] * hours), hours)
            evened = even_rates(work)[_NAMES[0]]["evened"]
            hits += evened is not None and _holds(evened, 1_000.0 * _AIR_RATE * times[0])
        what = f"95 % limits of the rate to expect cover the true one; eight transports, {words}"
        claims.append(claim_between(what, hits, rooms, 0.93, 1.0))
    return claims


def _months(draws: np.random.Generator, months: int, size: float) -> list[dict[str, Any]]:
    """Monthly counts of eight transports; events come in clusters of ``size`` on average, one by one where it is 1."""
    rows = []
    for name in _NAMES:
        for month in range(months):
            hours = draws.uniform(20.0, 120.0)
            occasions = int(draws.poisson(_AIR_RATE * hours / size))
            count = occasions if size == 1.0 else int(draws.geometric(1.0 / size, occasions).sum())
            own = {"count": count, "occasions": occasions, "hours": hours}
            rows.append({"machine": name, "month": f"{month:02d}", **own})
    return rows


def _is_called_scattered(rows: list[dict[str, Any]]) -> bool:
    p = judge_scatter(rows)["p"]
    return p is not None and p < LEVEL


def _call_scattered(draws: np.random.Generator, rooms: int, months: int) -> Claim:
    hits = sum(_is_called_scattered(_months(draws, months, 1.0)) for _ in range(rooms))
    what = f"monthly counts are called more scattered than luck though events come one by one; {months} months"
    return claim_between(what, hits, rooms, 0.03, 0.06)


def _find_clusters(draws: np.random.Generator, rooms: int) -> Claim:
    hits = sum(_is_called_scattered(_months(draws, 12, 2.0)) for _ in range(rooms))
    what = "monthly counts are called more scattered than luck where events come two at a time on average; 12 months"
    return claim_at_least(what, hits, rooms, 0.8)


def _name_in_clusters(draws: np.random.Generator, rooms: int) -> Claim:
    """All alike, but incidents bring two events on average, which the test of events alone does not allow for."""
    named = 0
    for _ in range(rooms):
        rows = _months(draws, 12, 2.0)
        counts, occasions, hours = (
            np.array([sum(row[column] for row in rows if row["machine"] == name) for name in _NAMES])
            for column in ("count", "occasions", "hours")
        )
        air = replace(_work("air", counts[:, None], hours[:, None]), occasions=occasions)
        named += _is_any_named([air])
    what = "a transport is named on the page though all eight are alike, where incidents bring two events on average"
    return claim_at_most(what, named, rooms, LEVEL)
