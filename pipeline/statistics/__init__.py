"""Statistics of rare events on plain numbers and arrays.

A playback room is judged by a handful of interruptions, so every rate, share and waiting time it prints needs honest
limits. The formulas stand here alone, without tables, files or settings, so that they can be checked against handbooks
and other programs, and used from a notebook:

    from pipeline.statistics import poisson_limits

Wrong input raises ValueError with the value and what is allowed. Results are tuples or frozen dataclasses; tables offer
`columns()`, a dict ready for a data frame.
"""

from pipeline.statistics.annual_cost import break_even, capital_recovery, equivalent_annual_cost, present_value
from pipeline.statistics.availability import (
    PairAvailability,
    UnitAvailability,
    availability_limits,
    failure_on_demand,
    pair_availability,
    unit_availability,
)
from pipeline.statistics.chance import binomial_at_least, poisson_at_least
from pipeline.statistics.cheapest import chance_cheapest
from pipeline.statistics.clocks import ClockFit, theil_sen_clock
from pipeline.statistics.common_cause import BothLost, SharedCause, both_lost, common_cause_share, least_share_found
from pipeline.statistics.control import benjamini_hochberg, poisson_cusum, u_chart
from pipeline.statistics.crossed import CrossedFit, FactorEffects, crossed_poisson
from pipeline.statistics.dispersion import dispersion_test
from pipeline.statistics.funnel import funnel_limits
from pipeline.statistics.hierarchical import HierarchicalRates, hierarchical_rates, hierarchical_worst
from pipeline.statistics.inseparable import Inseparable, find_inseparable
from pipeline.statistics.limits import mtbf_limits, poisson_limits, proportion_limits, rate_ratio
from pipeline.statistics.log_rank import LogRank, log_rank
from pipeline.statistics.monotone import Drift, monotone_drift
from pipeline.statistics.part_life import (
    EarlyShare,
    Estimates,
    WeibullRegion,
    chance_to_last,
    early_failures,
    remaining_median,
    weibull_region,
)
from pipeline.statistics.placement import Placement, bernoulli_sum_at_least, holm, placement_chances
from pipeline.statistics.power import detectable_ratio, exposure_factor, rate_ratio_power
from pipeline.statistics.power_law import PowerLawFit, power_law_process
from pipeline.statistics.prediction import (
    CountForecast,
    forecast_power_law,
    forecast_steady,
    poisson_prediction_limits,
    power_law_prediction_limits,
)
from pipeline.statistics.ratio_of_ratios import RatioOfRatios, ratio_of_ratios
from pipeline.statistics.recurrence import CumulativeTable, confidence_for_few, mean_cumulative_function
from pipeline.statistics.regression import PoissonRegression, poisson_regression
from pipeline.statistics.replacement import replacement_age
from pipeline.statistics.run_length import cusum_alarm_chance, cusum_height, poisson_cusum_run_length
from pipeline.statistics.shrinkage import ShrunkenRates, gamma_poisson_shrinkage
from pipeline.statistics.standardised import StandardisedRatio, standardised_ratio
from pipeline.statistics.stratified import stratified_rate_ratio
from pipeline.statistics.survival import SurvivalCurve, SurvivalTable, kaplan_meier
from pipeline.statistics.trend import laplace_test, military_handbook_test
from pipeline.statistics.trend_power import least_growth_found
from pipeline.statistics.weibull import WeibullFit, weibull_fit

__all__ = [
    "BothLost",
    "ClockFit",
    "CountForecast",
    "CrossedFit",
    "CumulativeTable",
    "Drift",
    "EarlyShare",
    "Estimates",
    "FactorEffects",
    "HierarchicalRates",
    "Inseparable",
    "LogRank",
    "PairAvailability",
    "Placement",
    "PoissonRegression",
    "PowerLawFit",
    "RatioOfRatios",
    "SharedCause",
    "ShrunkenRates",
    "StandardisedRatio",
    "SurvivalCurve",
    "SurvivalTable",
    "UnitAvailability",
    "WeibullFit",
    "WeibullRegion",
    "availability_limits",
    "benjamini_hochberg",
    "bernoulli_sum_at_least",
    "binomial_at_least",
    "both_lost",
    "break_even",
    "capital_recovery",
    "chance_cheapest",
    "chance_to_last",
    "common_cause_share",
    "confidence_for_few",
    "crossed_poisson",
    "cusum_alarm_chance",
    "cusum_height",
    "detectable_ratio",
    "dispersion_test",
    "early_failures",
    "equivalent_annual_cost",
    "exposure_factor",
    "failure_on_demand",
    "find_inseparable",
    "forecast_power_law",
    "forecast_steady",
    "funnel_limits",
    "gamma_poisson_shrinkage",
    "hierarchical_rates",
    "hierarchical_worst",
    "holm",
    "kaplan_meier",
    "laplace_test",
    "least_growth_found",
    "least_share_found",
    "log_rank",
    "mean_cumulative_function",
    "military_handbook_test",
    "monotone_drift",
    "mtbf_limits",
    "pair_availability",
    "placement_chances",
    "poisson_at_least",
    "poisson_cusum",
    "poisson_cusum_run_length",
    "poisson_limits",
    "poisson_prediction_limits",
    "poisson_regression",
    "power_law_prediction_limits",
    "power_law_process",
    "present_value",
    "proportion_limits",
    "rate_ratio",
    "rate_ratio_power",
    "ratio_of_ratios",
    "remaining_median",
    "replacement_age",
    "standardised_ratio",
    "stratified_rate_ratio",
    "theil_sen_clock",
    "u_chart",
    "unit_availability",
    "weibull_fit",
    "weibull_region",
]
