"""Statistics of rare events on plain numbers and arrays.

A playback room is judged by a handful of interruptions, so every rate, share and waiting time it prints needs honest
limits. The formulas stand here alone, without tables, files or settings, so that they can be checked against handbooks
and other programs, and used from a notebook:

    from pipeline.statistics import poisson_limits

Wrong input raises ValueError with the value and what is allowed. Results are tuples or frozen dataclasses; tables offer
`columns()`, a dict ready for a data frame.
"""

from pipeline.statistics.chance import binomial_at_least, poisson_at_least
from pipeline.statistics.clocks import ClockFit, theil_sen_clock
from pipeline.statistics.control import benjamini_hochberg, poisson_cusum, u_chart
from pipeline.statistics.limits import mtbf_limits, poisson_limits, proportion_limits, rate_ratio
from pipeline.statistics.power_law import PowerLawFit, power_law_process
from pipeline.statistics.recurrence import CumulativeTable, mean_cumulative_function
from pipeline.statistics.replacement import replacement_age
from pipeline.statistics.shrinkage import ShrunkenRates, gamma_poisson_shrinkage
from pipeline.statistics.survival import SurvivalCurve, SurvivalTable, kaplan_meier
from pipeline.statistics.trend import laplace_test, military_handbook_test
from pipeline.statistics.weibull import WeibullFit, weibull_fit

__all__ = [
    "ClockFit",
    "CumulativeTable",
    "PowerLawFit",
    "ShrunkenRates",
    "SurvivalCurve",
    "SurvivalTable",
    "WeibullFit",
    "benjamini_hochberg",
    "binomial_at_least",
    "gamma_poisson_shrinkage",
    "kaplan_meier",
    "laplace_test",
    "mean_cumulative_function",
    "military_handbook_test",
    "mtbf_limits",
    "poisson_at_least",
    "poisson_cusum",
    "poisson_limits",
    "power_law_process",
    "proportion_limits",
    "rate_ratio",
    "replacement_age",
    "theil_sen_clock",
    "u_chart",
    "weibull_fit",
]
