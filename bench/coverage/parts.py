"""Parts whose law of life is known: whether limits of lives hold it, and whether rooms without wear are left alone.

The lives go through the judging of the page itself: machines, hours and ends in, figures and verdicts out. A room is
one kind of part on four machines alike, 20 to 60 lives of it; parts are taken out at ages of their own, and what is
fitted last on a machine still runs.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_between
from pipeline.measure.transports.parts.kinds import EARLY_H, judge_parts
from pipeline.measure.transports.parts.reading import FAILED, RUNNING, TAKEN_OUT

_SCALE_H = 400.0
_MACHINES = ("A1", "A2", "B1", "B2")
# Shape of the life (fails early, chance, wears out), and the mean hours after which a good part is taken out.
_CASES = ((0.7, 400.0), (1.0, 400.0), (2.5, 400.0), (1.0, 100.0))
_AHEAD_H = 100.0
_CALIBRATED = 0.02  # the mean chance printed may differ from the share that lasts by this much
_Room = dict[str, Any]


@dataclass(frozen=True)
class _Law:
    """A Weibull life, and how long a good part is left in, on average."""

    shape: float
    taken_out_h: float

    @property
    def cycle_h(self) -> float:
        """About the mean hours from one fitting to the next."""
        return 1.0 / (1.0 / _SCALE_H + 1.0 / self.taken_out_h)

    def hazard(self, hours: float) -> float:
        """Cumulative hazard."""
        return float((hours / _SCALE_H) ** self.shape)

    def quantile(self, share: float) -> float:
        """The hours by which this share has failed."""
        return float(_SCALE_H * (-math.log1p(-share)) ** (1.0 / self.shape))

    def lasts(self, age: float) -> float:
        """The chance to last the hours ahead, at this age."""
        return math.exp(self.hazard(age) - self.hazard(age + _AHEAD_H))

    def remaining(self, age: float) -> float:
        """The hours by which half of the parts of this age have failed."""
        return float(_SCALE_H * (self.hazard(age) + math.log(2.0)) ** (1.0 / self.shape) - age)


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold every limit of the page's table against the law that the lives were drawn from."""
    draws = np.random.default_rng([seed, 11])
    claims = []
    for shape, taken_out_h in _CASES:
        law = _Law(shape, taken_out_h)
        judged = [_judge(draws, law) for _ in range(rooms)]
        failures = sum(room["failed_count"] for room in judged) / rooms
        claims += _claim(law, judged, f"20 to 60 lives of shape {shape:g}, {failures:.0f} failures on average")
    return claims


def _judge(draws: np.random.Generator, law: _Law) -> _Room:
    lives = _draw_lives(draws, law)
    judged = judge_parts(lives)
    kind: _Room = judged["kinds"][0]
    one = kind["running"][int(draws.integers(len(kind["running"])))]
    lasted = draws.random() < law.lasts(one["life_h"])
    tests = [test for test in (kind["weibull"], kind["machines"]) if test is not None]
    is_named = any(test["adjusted_p"] < judged["level"] for test in tests)
    return {**kind, "one": one, "lasted": lasted, "is_named": is_named}


def _draw_lives(draws: np.random.Generator, law: _Law) -> pl.DataFrame:
    """One kind on machines alike: part follows part until the data end, and each may be taken out before it fails."""
    until = draws.uniform(20.0, 60.0) / len(_MACHINES) * law.cycle_h
    rows = [(machine, *life) for machine in _MACHINES for life in _follow(draws, law, until)]
    return pl.DataFrame(rows, schema=["machine", "how", "life_h"], orient="row").with_columns(
        kind=pl.lit("part"),
        detail=pl.lit("part"),
        in_place_days=pl.col("life_h") / 8.0,
        is_unclear=pl.lit(False),
        was_fitted_before=pl.lit(False),
    )


def _follow(draws: np.random.Generator, law: _Law, until: float) -> Iterator[tuple[str, float]]:
    at = 0.0
    while True:
        fails, taken = _SCALE_H * draws.weibull(law.shape), draws.exponential(law.taken_out_h)
        if at + min(fails, taken) >= until:
            yield RUNNING, until - at
            return
        yield FAILED if fails <= taken else TAKEN_OUT, min(fails, taken)
        at += min(fails, taken)


def _claim(law: _Law, judged: list[_Room], case: str) -> list[Claim]:
    fitted = [room for room in judged if room["weibull"] is not None]
    early = -math.expm1(-law.hazard(EARLY_H))
    within = _count(judged, lambda room: _holds(room["early_h"], early))
    return [
        *_cover(law, fitted, case),
        _cover_medians(law, judged, case),
        claim_at_least(f"95 % limits of the early share cover it; {case}", within, len(judged), 0.95),
        _calibrate(fitted, case),
        _name(law, judged, case),
    ]


def _cover(law: _Law, fitted: list[_Room], case: str) -> list[Claim]:
    """What a fitted life says, each against its truth; rooms with fewer than three failures have no fit."""
    told: dict[str, Callable[[_Room], bool]] = {
        "the shape": lambda room: _holds(room["weibull"]["shape"], law.shape),
        "B10": lambda room: _holds(room["weibull"]["b10_h"], law.quantile(0.1)),
        "the chance to last 100 h": lambda room: _holds(room["one"]["last_100_h"], law.lasts(room["one"]["life_h"])),
        "the median hours left": lambda room: _holds(room["one"]["median_h"], law.remaining(room["one"]["life_h"])),
    }
    return [
        claim_between(f"95 % limits of {name} cover it; {case}", _count(fitted, is_in), len(fitted), 0.93, 0.97)
        for name, is_in in told.items()
    ]


def _cover_medians(law: _Law, judged: list[_Room], case: str) -> Claim:
    """Where few have failed a limit of the median is not reached and holds whatever the truth: above 0.97 is right."""
    inside = _count(judged, lambda room: _holds(room["failure_h"], law.quantile(0.5)))
    return claim_at_least(f"95 % limits of the median life cover it; {case}", inside, len(judged), 0.93)


def _calibrate(fitted: list[_Room], case: str) -> Claim:
    """One part in use a room: the chance printed, against whether its true law let it last."""
    mean = sum(room["one"]["last_100_h"]["value"] for room in fitted) / len(fitted)
    lasted = _count(fitted, lambda room: bool(room["lasted"]))
    low, high = max(0.0, mean - _CALIBRATED), min(1.0, mean + _CALIBRATED)
    what = f"a part in use lasts 100 h as often as printed, within {_CALIBRATED:g}; {case}"
    return claim_between(what, lasted, len(fitted), round(low, 3), round(high, 3))


def _name(law: _Law, judged: list[_Room], case: str) -> Claim:
    """Machines are alike in every room, so the log-rank test must be silent too; the shape where it is 1."""
    if law.shape == 1.0:
        named = _count(judged, lambda room: bool(room["is_named"]))
        return claim_at_most(f"anything is called shown where nothing is; {case}", named, len(judged), 0.05)
    wrong = "fails early" if law.shape > 1.0 else "wears out"
    turned = _count(judged, lambda room: bool(room["verdict"] == wrong))
    return claim_at_most(f"the reading is the wrong way round; {case}", turned, len(judged), 0.025)


def _holds(limits: _Room, truth: float) -> bool:
    low, high = limits["low"], limits["high"]
    return (low is None or low <= truth) and (high is None or truth <= high)


def _count(rooms: list[_Room], is_true: Callable[[_Room], bool]) -> int:
    return sum(is_true(room) for room in rooms)
