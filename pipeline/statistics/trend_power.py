"""What a trend test could have seen: the least growth of a failure rate that these few failures would have shown.

A test that finds nothing says little by itself. With five failures even a machine that wears out fast passes it.
"""

from scipy import special

from pipeline.statistics import arguments


def least_growth_found(failures: int, level: float, power: float = 0.8) -> float:
    """The exponent beta of a power law from which the MIL-HDBK-189 test finds a rising rate with probability `power`.

    The statistic is chi-square with 2 n degrees of freedom over beta, and a two-sided test at `level` calls it rising
    below the level/2 quantile c: P(chi2 / beta <= c) = power gives beta = chi2(power; 2 n) / c. At the end of the watch
    such a machine fails beta times as often as on average over the watch.

    Args:
        failures: failures inside the watch, 1 or more.
        level: two-sided level at which the test is called, after any allowance for many tests.
        power: probability of finding it.

    Returns:
        beta, above 1 wherever power is above level / 2.

    Raises:
        ValueError: failures is not a whole number of 1 or more, level or power is not between 0 and 1.

    Reference: Bain and Engelhardt (1991), Statistical Analysis of Reliability and Life-Testing Models, chapter 9.
    """
    seen = arguments.count("failures", failures)
    if seen == 0:
        raise arguments.refuse("failures", failures, "1 or more")
    for name, value in (("level", level), ("power", power)):
        if not 0.0 < arguments.number(name, value) < 1.0:
            raise arguments.refuse(name, value, "a share between 0 and 1")
    return float(special.gammaincinv(seen, power) / special.gammaincinv(seen, level / 2.0))
