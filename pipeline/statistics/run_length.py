"""How long a running sum keeps still, and how soon it speaks: the run lengths of a Poisson CUSUM.

A warning is worth only as much as its false alarms are rare. These say how many periods pass on average until an alarm,
false or true, and how likely any false alarm is over a watch, so that the decision height can be chosen for it.
"""

import math
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import poisson

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray

_FINEST = 40  # largest denominator of the lattice on which a path is followed
_CELLS = 20  # steps of a path to one event, where it is followed through time
_SETTLED = 300.0  # expected events after which the chance of an alarm is the same in every step
_MOST_AT_ONCE = 4  # events within a step of a path; more have a chance below 1e-9
_HIGHEST = 1000  # events: no watch needs a height above


def poisson_cusum_run_length(mean: float, reference: float, h: float, start: float = 0.0) -> float:
    """Average run length of an upper Poisson CUSUM: expected number of periods until path >= h.

    path_i = max(0, path_(i-1) + count_i - reference), counts Poisson(mean), alarm at path >= h as in `poisson_cusum`
    with equal exposures. The path lives on a lattice, so the run lengths L from its points solve L = 1 + Q L, Q the
    chances of moving between points below h (Brook and Evans; Lucas). Exact where reference and h are whole multiples
    of one step of 1/40 or more; else reference is taken as its nearest fraction with a denominator of at most 40, and h
    is rounded up to that lattice.

    Args:
        mean: expected events a period, above 0: the acceptable one for the run length in control, the raised one for
            that out of control.
        reference: what is taken off in each period, above 0.
        h: decision height, above 0.
        start: height of the path at the start, 0 or more and below h (a head start).

    Returns:
        Periods, the one with the alarm included; infinite where it is beyond what floats solve.

    Raises:
        ValueError: mean, reference or h is not above 0, start is negative or not below h.

    Reference: Lucas (1985), Technometrics 27:129-144; Brook and Evans (1972), Biometrika 59:539-549.
    """
    expected, height = arguments.positive("mean", mean), arguments.positive("h", h)
    head = arguments.number("start", start)
    if not 0.0 <= head < height:
        raise arguments.refuse("start", start, f"a number of 0 or more, below h, {height:g}")
    off = Fraction(arguments.positive("reference", reference)).limit_denominator(_FINEST)
    cells = _lattice(off, height)
    down, points = int(off * cells), math.ceil(height * cells - 1e-9)
    moves = _moves(expected, down, cells, points)
    lengths = np.linalg.solve(np.eye(points) - moves, np.ones(points))
    length = float(lengths[round(head * cells)])
    return length if length >= 1.0 and math.isfinite(length) else math.inf


def cusum_alarm_chance(expected: ArrayLike, ratio: float, h: float) -> FloatArray:
    """Probability that a Poisson CUSUM gives any alarm while nothing changes, for watches of several lengths.

    The path rises by 1 at each event and falls by k = (ratio - 1) / ln(ratio) for each event expected, not below 0; it
    is the CUSUM of `poisson_cusum` looked at without a pause, so that one looked at week by week, whatever its hours,
    gives an alarm at most as often. It is followed in steps of 1/20 of an event; within a step it is taken at its
    highest, so the result is never too low (at h = 8 by about a tenth of it too high).

    Args:
        expected: events expected in each watch in control, 0 or more, shape (n,).
        ratio: the raised rate to be found over the rate in control, above 1.
        h: decision height in events, above 0; rounded down to 1/20.

    Returns:
        Probabilities, shape (n,).

    Raises:
        ValueError: expected is negative, ratio is not above 1, h is not above 0.

    Reference: Lucas (1985), Technometrics 27:129-144, on charts of the times between events.
    """
    watches, raised = arguments.not_negative("expected", expected), arguments.number("ratio", ratio)
    if raised <= 1.0:
        raise arguments.refuse("ratio", ratio, "a number above 1")
    points = max(1, math.floor(arguments.positive("h", h) * _CELLS + 1e-9))
    step = math.log(raised) / (raised - 1.0) / _CELLS  # events expected while the path falls by one cell
    most = min(float(watches.max(initial=0.0)), _SETTLED)
    quiet = _still_quiet(points, step, math.ceil(most / step) + 1)
    number = np.ceil(watches / step - 1e-9).astype(np.int64)
    last = quiet.size - 1
    ratio_of_steps = quiet[last] / quiet[last - 1] if last and quiet[last - 1] > 0.0 else 1.0
    return np.asarray(1.0 - quiet[np.minimum(number, last)] * ratio_of_steps ** np.maximum(number - last, 0))


def cusum_height(expected: ArrayLike, ratio: float, chance: float) -> float:
    """The least decision height at which all watches together give any false alarm with at most this chance.

    Watches are independent, so no alarm has the product of their chances of none; see `cusum_alarm_chance`.

    Args:
        expected: events expected in each watch in control, 0 or more, shape (n,).
        ratio: the raised rate to be found over the rate in control, above 1.
        chance: the chance of any false alarm, above 0 and below 1.

    Returns:
        The height in events, a multiple of 1/20, at most 1,000.

    Raises:
        ValueError: chance is not between 0 and 1; else see `cusum_alarm_chance`.

    Reference: Lucas (1985), Technometrics 27:129-144.
    """
    allowed = arguments.number("chance", chance)
    if not 0.0 < allowed < 1.0:
        raise arguments.refuse("chance", chance, "a share between 0 and 1")
    below, above = 0, _HIGHEST * _CELLS
    total = float(arguments.not_negative("expected", expected).sum())
    guess = math.ceil(_CELLS * math.log(max(total / 4.0, 1.0) / allowed) / math.log(max(ratio, 1.01)))
    cells = min(max(guess, 1), above - 1)
    while above - below > 1:
        chance_here = _any_alarm(expected, ratio, cells / _CELLS)
        below, above = (below, cells) if chance_here <= allowed else (cells, above)
        # The chance falls with the height about as ratio ** -h, which says where to look next.
        step = _CELLS * math.log(max(chance_here, 1e-300) / allowed) / math.log(ratio)
        cells = min(max(cells + (math.ceil(step) or -1), below + 1), above - 1)
    return above / _CELLS


def _any_alarm(expected: ArrayLike, ratio: float, h: float) -> float:
    with np.errstate(divide="ignore"):
        return float(-np.expm1(np.log1p(-cusum_alarm_chance(expected, ratio, h)).sum()))


def _lattice(off: Fraction, height: float) -> int:
    """The number of lattice steps to one event: that of the reference, or of it and the height where both fit."""
    both = math.lcm(off.denominator, Fraction(height).limit_denominator(_FINEST).denominator)
    return both if both <= _FINEST else off.denominator


def _moves(mean: float, down: int, cells: int, points: int) -> FloatArray:
    """Chances of moving from each point below the height to each other one in a period."""
    counts = np.arange(points // cells + down // cells + 2)
    chances = np.asarray(poisson.pmf(counts, mean))
    moves, places = np.zeros((points, points)), np.arange(points)
    for count, chance in zip(counts, chances, strict=True):
        to = np.maximum(places + int(count) * cells - down, 0)
        inside = to < points
        np.add.at(moves, (places[inside], to[inside]), chance)
    return moves


def _still_quiet(points: int, step: float, steps: int) -> FloatArray:
    """Probability of no alarm after 0, 1, 2 ... steps, in each of which the path falls by a cell and then may jump."""
    counts = np.arange(min(points // _CELLS, _MOST_AT_ONCE) + 1)  # more at once counts as an alarm
    chances = np.asarray(poisson.pmf(counts, step))
    law, quiet = np.zeros(points), np.ones(steps + 1)
    law[0] = 1.0
    for number in range(1, steps + 1):
        new = np.zeros(points)
        for count, chance in zip(counts, chances, strict=True):
            stay = law[: points - count * _CELLS]  # what does not reach the height by so many events
            if stay.size:
                new[count * _CELLS : count * _CELLS + max(stay.size - 1, 0)] += chance * stay[1:]
                new[count * _CELLS] += chance * stay[0]
        law = new
        quiet[number] = law.sum()
    return quiet
