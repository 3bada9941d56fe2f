"""Does a name go with the bad ones? Exact chances when names are dealt out anew over the same units.

One bad reel can bring more faults than all others of its recorder together, and then a test that takes faults to come
one by one blames the recorder. Dealing the recorders' names anew over the reels as they are asks the right question:
how often would so many bad reels fall to one name by luck?
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray, IntArray

_GRID = 2_000  # steps over which the scores of one stratum may spread
_DUST = 1e-17  # probabilities below it at both ends are dropped


@dataclass(frozen=True)
class Placement:
    """One name against chance: the sum of its units' scores, what dealing anew would give, and how often as much."""

    total: float
    expected: float
    deviation: float  # standard deviation of the sum; 0 where nothing can be dealt otherwise
    p: float  # of a sum at least as large; 1 where nothing can be dealt otherwise


def placement_chances(
    scores: ArrayLike, strata: Sequence[str], names: Sequence[str], *, step: float = 0.05
) -> dict[str, Placement]:
    """Exact one-sided permutation test of each name: is the sum of its units' scores larger than luck makes it?

    Names are dealt out anew within each stratum, each keeping its number of units there, all deals equally likely. A
    name's sum is then that of a simple random sample without replacement from each stratum, and its law is counted out:
    in a stratum of n units the number of ways to draw k of them with sum s follows unit by unit,
    w(k, s) ← w(k, s) + w(k − 1, s − score), the strata are convolved. Scores are first rounded to ``step`` (coarser in
    a stratum whose scores spread over more than 2,000 steps, all strata alike), and the test is that of the rounded
    scores, so that it is exact whatever the step.

    Assumes that within a stratum any unit could as well have carried any of the names: units are alike but for luck
    and for faults of their own, however unlike these are.

    Args:
        scores: of each unit, such as faults less those expected, shape (n,).
        strata: of each unit, shape (n,).
        names: of each unit, shape (n,).
        step: width to which scores are rounded, above 0.

    Returns:
        One Placement a name, in order of first appearance. total, expected and deviation are of the rounded scores.

    Raises:
        ValueError: a score is not finite, lengths differ, or step is not above 0.

    Reference: Fisher (1935), The Design of Experiments, section 21; Pagano and Tritchler (1983), JASA 78:435-440 (the
    counting).
    """
    values, width = arguments.vector("scores", scores), arguments.positive("step", step)
    if not values.size == len(strata) == len(names):
        raise ValueError(f"scores, strata and names have {values.size}, {len(strata)} and {len(names)} values.")
    members: dict[str, list[int]] = {}
    for row, stratum in enumerate(strata):
        members.setdefault(stratum, []).append(row)
    spread = max((float(np.ptp(values[rows])) for rows in members.values()), default=0.0)
    width = max(width, spread / _GRID)
    whole = np.round(values / width).astype(np.int64)
    laws = {name: (0, np.ones(1)) for name in names}  # least sum, probabilities upwards from it
    for rows in members.values():
        _deal(whole[rows], [names[row] for row in rows], laws)
    totals = dict.fromkeys(names, 0)
    for row, name in enumerate(names):
        totals[name] += int(whole[row])
    return {name: _placement(totals[name], *laws[name], width) for name in totals}


def _deal(scores: IntArray, names: list[str], laws: dict[str, tuple[int, FloatArray]]) -> None:
    """Convolve every name's law with that of its share of one stratum."""
    counts: dict[str, int] = {}
    for name in names:
        counts[name] = counts.get(name, 0) + 1
    least, size = int(scores.min()), scores.size
    if len(counts) == 1:
        name, start, law = names[0], *laws[names[0]]
        laws[name] = (start + int(scores.sum()), law)
        return
    ways = _ways(scores - least, max(counts.values()))
    for name, drawn in counts.items():
        start, law = laws[name]
        lead, mine = _trimmed(ways[drawn] / special.comb(size, drawn))
        before, law = _trimmed(np.convolve(law, mine))
        laws[name] = (start + drawn * least + lead + before, law)


def _ways(scores: IntArray, most: int) -> FloatArray:
    """How many subsets of k of the scores (0 or more) have sum s: an array of shape (most + 1, largest sum + 1)."""
    top = int(np.sort(scores)[::-1][:most].sum())
    ways = np.zeros((most + 1, top + 1))
    ways[0, 0] = 1.0
    for number, score in enumerate(np.sort(scores).tolist(), 1):
        high = min(number, most)
        ways[1 : high + 1, score:] += ways[:high, : top + 1 - score].copy()
    return ways


def _trimmed(law: FloatArray) -> tuple[int, FloatArray]:
    """The law without what is nothing at both ends, and how many steps that took off the lower one."""
    there = np.flatnonzero(law > _DUST)
    return int(there[0]), law[there[0] : there[-1] + 1]


def _placement(total: int, start: int, law: FloatArray, width: float) -> Placement:
    law = law / law.sum()
    steps = np.arange(law.size)
    mean = float(law @ steps)
    deviation = math.sqrt(max(float(law @ (steps - mean) ** 2), 0.0))
    reached = total - start
    p = float(law[max(reached, 0) :].sum()) if reached < law.size else _DUST
    p = 1.0 if law.size == 1 else min(max(p, _DUST), 1.0)
    return Placement(total * width, (start + mean) * width, deviation * width, p)


def bernoulli_sum_at_least(seen: int, shares: ArrayLike) -> float:
    """Probability that at least `seen` of some events fall where each does with a share of its own, independently.

    The law of the sum follows event by event: w(k) ← w(k) (1 − s) + w(k − 1) s. With one share for all it is binomial.
    Given the events of a stratum, those of Poisson processes with one rate fall on a part of its exposure with that
    part's share: this is the exact one-sided test that the part has no higher rate in any of the strata.

    Args:
        seen: events that fell there, a whole number.
        shares: one an event, from 0 to 1, shape (n,), n >= seen.

    Returns:
        A probability from 0 to 1.

    Raises:
        ValueError: seen is not a whole number of 0 or more or exceeds n, a share is outside [0, 1].

    Reference: Breslow and Day (1987), Statistical Methods in Cancer Research II, 3.5 (the test); Hong (2013),
    Computational Statistics and Data Analysis 59:41-51 (the sum).
    """
    count, parts = arguments.count("seen", seen), arguments.not_negative("shares", shares)
    if (parts > 1.0).any() or count > parts.size:
        raise arguments.refuse("shares", shares, "numbers from 0 to 1, at least as many as seen")
    return min(float(bernoulli_sum_law(parts)[count:].sum()), 1.0)


def bernoulli_sum_law(shares: FloatArray) -> FloatArray:
    """Probability of each sum from 0 to n of independent 0-or-1 counts with these chances, each from 0 to 1."""
    law = np.zeros(shares.size + 1)
    law[0] = 1.0
    for number, share in enumerate(shares.tolist(), 1):
        law[1 : number + 1] += share * (law[:number] - law[1 : number + 1])
        law[0] *= 1.0 - share
    return law


def holm(p_values: ArrayLike) -> FloatArray:
    """P-values adjusted so that any false call at all among those at or below q has chance q at most.

    adjusted_(i) = max over j <= i of min(1, (n − j + 1) p_(j)) over the n sorted p-values. Holds however the tests hang
    together, and whichever of them have something to find. Never below the adjustment of Benjamini and Hochberg.

    Args:
        p_values: shape (n,), from 0 to 1; n may be 0.

    Returns:
        Adjusted p-values, shape (n,), in the order given.

    Raises:
        ValueError: a value is not between 0 and 1.

    Reference: Holm (1979), Scandinavian Journal of Statistics 6:65-70.
    """
    values = arguments.probabilities("p_values", p_values)
    order = np.argsort(values, kind="stable")
    adjusted = np.empty_like(values)
    factors = np.arange(values.size, 0, -1)
    adjusted[order] = np.minimum(np.maximum.accumulate(values[order] * factors), 1.0)
    return adjusted
