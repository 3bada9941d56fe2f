"""How fast a machine gets better or worse, and its mean time between failures now.

After a trend the overall mean time between failures describes no moment. The power-law process (Crow-AMSAA) fits a rate
that rises or falls with running time and gives the rate at the end of the record.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy import optimize, special

from pipeline.statistics import arguments
from pipeline.statistics.trend import History, System, log_distances, read_systems

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)
_LARGEST_EXPONENT = 700.0  # exp of more overflows


@dataclass(frozen=True)
class PowerLawFit:
    """Expected failures of one system by time t are scale * t ** beta; intensity and mtbf hold at the latest end."""

    beta: float  # above 1: gets worse; below 1: gets better
    beta_low: float
    beta_high: float
    beta_unbiased: float | None  # None where one failure inside the watch is all there is
    scale: float  # lambda of the literature: expected failures in the first unit of time
    intensity: float  # scale * beta * end ** (beta - 1), failures per unit of time
    intensity_low: float
    intensity_high: float
    mtbf: float  # 1 / intensity
    mtbf_low: float
    mtbf_high: float
    mtbf_method: str  # "exact", or "large sample" where systems ended apart or with their last failures
    failures: int


def power_law_process(times: History, end: float | None = None, confidence: float = 0.9) -> PowerLawFit:
    """Power-law (Crow-AMSAA) process by maximum likelihood, with limits.

    Failures of a system come at rate scale * beta * t^(beta - 1). With N failures in all, scale = N / sum T_k^beta and
    beta solves N / beta = N sum(T_k^beta ln T_k) / sum(T_k^beta) - sum ln t_i; for one system beta = N / sum ln(T /
    t_i). With M failures inside the watch (the one that ended it left out) and S = sum ln(T_k / t_i) over them, 2 beta
    S is chi-square with 2 M degrees of freedom: from it come the exact limits of beta and beta_unbiased = (M - 1) / S.

    The limits of mtbf are exact for one system and for several that ended at the same set time: at a set end the count
    given S has weights z^n / (n! (n-1)!), a Bessel law in z = T S / mtbf alone (Crow); at a last failure T S / mtbf is
    a product of two gamma variables. Otherwise they come from the information matrix, on the log scale.

    Assumes repair to as-bad-as-old and, for several systems, one beta and one scale.

    Args:
        times: running times of failure, above 0, any order, ties allowed; or a list of (times, end), one for each
            system.
        end: end of watching in the same unit; None when it ended with the last failure.
        confidence: two-sided level of all limits.

    Returns:
        PowerLawFit, at the latest end.

    Raises:
        ValueError: a time is 0 or every failure is at the end; confidence is outside (0, 1); else see
            `trend.read_systems`.

    Reference: Crow (1975), AMSAA TR-138; Crow (1982), Technometrics 24:67-72; MIL-HDBK-189 (1981), Appendix C.
    """
    systems, tail = read_systems(times, end), arguments.tail(confidence)
    free, log_sum = sum(s.inside.size for s in systems), log_distances(systems)
    if log_sum == 0.0:
        raise arguments.refuse("times", systems[0].end, "some failure before the end: beta is infinite")
    beta, expected = _maximum_likelihood(systems)
    last = max(s.end for s in systems)
    intensity = expected * beta / last
    exact = len(systems) == 1 or all(s.end == last and not s.by_failure for s in systems)
    low, high = _exact_mtbf(systems, log_sum, tail) if exact else _large_sample_mtbf(systems, beta, expected, tail)
    return PowerLawFit(
        beta=beta,
        beta_low=float(special.gammaincinv(free, tail)) / log_sum,
        beta_high=float(special.gammainccinv(free, tail)) / log_sum,
        beta_unbiased=(free - 1) / log_sum if free > 1 else None,
        scale=math.exp(min(math.log(expected) - beta * math.log(last), _LARGEST_EXPONENT)),
        intensity=intensity,
        intensity_low=1.0 / high,
        intensity_high=1.0 / low,
        mtbf=1.0 / intensity,
        mtbf_low=low,
        mtbf_high=high,
        mtbf_method="exact" if exact else "large sample",
        failures=sum(s.times.size for s in systems),
    )


def _maximum_likelihood(systems: list[System]) -> tuple[float, float]:
    """(beta, failures expected of one system by the latest end); times in units of that, so that no power overflows."""
    last = max(s.end for s in systems)
    logs = np.concatenate([np.log(s.times / last) for s in systems])
    ends = np.array([math.log(s.end / last) for s in systems])

    def score(log_beta: float) -> float:
        weight = np.exp(math.exp(log_beta) * ends)
        return logs.size * math.exp(-log_beta) + float(logs.sum() - logs.size * (weight @ ends) / weight.sum())

    beta = math.exp(float(optimize.brentq(score, -30.0, 30.0, xtol=1e-14)))
    return beta, logs.size / float(np.exp(beta * ends).sum())


def _exact_mtbf(systems: list[System], log_sum: float, tail: float) -> tuple[float, float]:
    """Limits from the law of z = T S / mtbf, mtbf of all systems together; one system's is as many times longer."""
    n = sum(s.times.size for s in systems)
    product = systems[0].end * log_sum * len(systems)
    if systems[0].by_failure:
        z_low, z_high = (_root(partial(_product_above, n), share, n) for share in (1.0 - tail, tail))
    else:
        z_low = _root(partial(_count_upto, n - 1), 1.0 - tail, n) if n > 1 else 0.0
        z_high = _root(partial(_count_upto, n), tail, n)
    return product / z_high, (product / z_low if z_low > 0.0 else math.inf)


def _count_upto(most: int, z: float) -> float:
    """P(count <= most) for a count n >= 1 with weights z^n / (n! (n-1)!)."""
    n = np.arange(1, most + 1)
    logs = n * math.log(z) - special.gammaln(n + 1) - special.gammaln(n)
    root = 2.0 * math.sqrt(z)  # the weights sum to sqrt(z) I_1(2 sqrt(z)); ive is I_1 scaled by exp(-2 sqrt(z))
    return float(np.exp(logs - 0.5 * math.log(z) - math.log(special.ive(1, root)) - root).sum())


def _product_above(n: int, z: float) -> float:
    """P(G_n G_(n-1) > z) for independent standard gamma variables; integrated over the log of the second."""
    least, most = math.log(special.gammaincinv(n - 1, 1e-15)), math.log(special.gammainccinv(n - 1, 1e-15))
    half = (most - least) / 2.0
    x = np.exp(least + half * (1.0 + _NODES))
    density = np.exp((n - 1) * np.log(x) - x - special.gammaln(n - 1))
    return float((special.gammaincc(n, z / x) * density * _WEIGHTS).sum() * half)


def _root(falling: Callable[[float], float], share: float, n: int) -> float:
    """The z at which a falling probability is `share`, sought on the log scale around its typical value, n^2."""
    centre = 2.0 * math.log(n)
    return math.exp(
        float(optimize.brentq(lambda u: falling(math.exp(u)) - share, centre - 40.0, centre + 10.0, xtol=1e-13))
    )


def _large_sample_mtbf(systems: list[System], beta: float, expected: float, tail: float) -> tuple[float, float]:
    """Wald limits of ln(mtbf) from the observed information of (ln expected, beta), in units of the latest end."""
    last = max(s.end for s in systems)
    logs, total = np.array([math.log(s.end / last) for s in systems]), sum(s.times.size for s in systems)
    each = expected * np.exp(beta * logs)
    cross = float(each @ logs)
    information = np.array([[total, cross], [cross, total / beta**2 + float(each @ logs**2)]])
    gradient = np.array([1.0, 1.0 / beta])
    spread = math.sqrt(float(gradient @ np.linalg.solve(information, gradient))) * float(special.ndtri(1.0 - tail))
    mtbf = last / (expected * beta)
    return mtbf * math.exp(-spread), mtbf * math.exp(spread)
