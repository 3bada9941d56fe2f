"""At what age to replace a part before it fails.

A planned change costs an hour of a free afternoon; a failure costs air. Whether replacing early pays, and when, follows
from how the part wears and what the two cost.
"""

import math

from scipy import optimize, special

from pipeline.statistics import arguments

_LARGEST_HAZARD = 700.0  # at this cumulative hazard survival is below any float: replacing there is running to failure


def replacement_age(shape: float, scale: float, cost_planned: float, cost_failure: float) -> tuple[float, float]:
    """Age at which planned replacement of a Weibull part costs least in the long run (age replacement).

    A part is replaced at age T or at failure, whichever comes first. With survival R = exp(-(t / scale)^shape), cost
    per unit of time is (cost_planned R(T) + cost_failure (1 - R(T))) / integral of R from 0 to T. Its minimum solves
    h(T) * integral of R - (1 - R(T)) = cost_planned / (cost_failure - cost_planned), h the hazard, and is then
    (cost_failure - cost_planned) h(T).

    Assumes new parts as good as the first and costs that do not change with age. The fit's shape and scale are
    uncertain too: the optimum is flat, so round to a convenient interval. The maker's safety limits and local rules
    come first.

    Args:
        shape: Weibull shape, above 0.
        scale: Weibull scale in hours (or any unit of time), above 0.
        cost_planned: cost of one planned replacement, above 0.
        cost_failure: cost of one failure with its replacement, above 0, same currency.

    Returns:
        (age, cost_per_hour), in the unit of scale. Without wear-out (shape <= 1), or where a failure costs no more than
        a planned change, age is infinite: run to failure, at cost_failure / mean life.

    Raises:
        ValueError: an argument is not a finite number above 0.

    Reference: Barlow and Hunter (1960), Operations Research 8:90-100, policy I.
    """
    b, life = arguments.positive("shape", shape), arguments.positive("scale", scale)
    planned, failure = (
        arguments.positive("cost_planned", cost_planned),
        arguments.positive("cost_failure", cost_failure),
    )
    run_to_failure = math.inf, failure / (life * float(special.gamma(1.0 + 1.0 / b)))
    if b <= 1.0 or failure <= planned:
        return run_to_failure
    needed = planned / (failure - planned)

    def excess(log_hazard: float) -> float:
        return _gain(b, math.exp(log_hazard)) - needed

    top = math.log(_LARGEST_HAZARD)
    if excess(top) <= 0.0:
        return run_to_failure
    # The gain is at most shape times the cumulative hazard, as the integral of R is at most the age.
    bottom = math.log(needed / b)
    hazard = math.exp(float(optimize.brentq(excess, bottom, top, xtol=1e-13)))
    rate = b * hazard ** (1.0 - 1.0 / b) / life
    return life * hazard ** (1.0 / b), (failure - planned) * rate


def _gain(shape: float, hazard: float) -> float:
    """h * integral of R - F at the age of this cumulative hazard, in units of scale."""
    uptime = float(special.gammainc(1.0 / shape, hazard)) * float(special.gamma(1.0 + 1.0 / shape))
    return float(shape * hazard ** (1.0 - 1.0 / shape)) * uptime + math.expm1(-hazard)
