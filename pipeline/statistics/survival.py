"""Times to recover when some of them were cut short.

A fault still open at a programme's end has no finished time to recover, and dropping it would make the room look
quicker than it is. The Kaplan-Meier estimate counts such a case for as long as it was watched.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import BoolArray, FloatArray, IntArray

# A survival of exactly one half may come out of the product as 0.5000000000000001; without slack the median would move
# to the next event. Survivals of n lifetimes that really differ are far wider apart than this.
_SLACK = 1e-10


@dataclass(frozen=True, eq=False)
class SurvivalTable:
    """One row for each distinct time at which an end was seen; arrays of one length, times ascending.

    `low` and `high` are pointwise log-log limits. `se` (Greenwood) and both limits are NaN where survival is 0: the
    variance does not exist there.
    """

    time: FloatArray
    at_risk: IntArray
    events: IntArray
    survival: FloatArray
    se: FloatArray
    low: FloatArray
    high: FloatArray

    def columns(self) -> dict[str, FloatArray | IntArray]:
        """The columns by name, in order, ready for a data frame."""
        return dict(vars(self))


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """A Kaplan-Meier estimate: its median with limits, and the whole curve. None: the curve does not get that far."""

    n: int  # all durations
    open: int  # those cut short
    median: float | None
    low: float | None
    high: float | None
    confidence: float
    table: SurvivalTable

    def quantile(self, p: float) -> float | None:
        """The least time t with S(t) <= 1 - p, in the unit of the durations; None when the curve stays above 1 - p.

        Raises:
            ValueError: p is outside (0, 1).
        """
        share = arguments.number("p", p)
        if not 0.0 < share < 1.0:
            raise arguments.refuse("p", p, "a share between 0 and 1")
        return _first_time(self.table.time, self.table.survival, 1.0 - share)


def kaplan_meier(durations: ArrayLike, observed: ArrayLike, confidence: float = 0.95) -> SurvivalCurve:
    """Product-limit survival curve of right-censored durations, with the median and its limits.

    S(t) is the product over event times s <= t of (1 - d/n), d ends seen among n at risk. A duration cut short at an
    event time is at risk there. Standard errors are Greenwood's, S sqrt(sum d / (n (n - d))). Pointwise limits are
    taken on log(-log S), and the limits of the median are the least times at which the lower and the upper of them are
    at or below one half (Brookmeyer and Crowley on that scale).

    Assumes that being cut short says nothing about how long the case would have gone on. Where S is 0 the limits do not
    exist, so a limit of the median that is not reached before is None.

    Args:
        durations: times to the end or to the cut, 0 or more, shape (n,); n may be 0.
        observed: shape (n,), true where the end was seen, false where the duration was cut short.
        confidence: two-sided level of all limits.

    Returns:
        SurvivalCurve. Median, low, high and quantiles are None (never NaN) when not reached; with no durations all are
        None.

    Raises:
        ValueError: a duration is negative or not finite, observed is not true or false, the lengths differ, confidence
            is outside (0, 1).

    Reference: Kaplan and Meier (1958), JASA 53:457-481; Brookmeyer and Crowley (1982), Biometrics 38:29-41.
    """
    times, seen = arguments.lifetimes(durations, observed)
    table = _table(times, seen, float(special.ndtri(1.0 - arguments.tail(confidence))))
    return SurvivalCurve(
        n=int(times.size),
        open=int((~seen).sum()),
        median=_first_time(table.time, table.survival, 0.5),
        low=_first_time(table.time, table.low, 0.5),
        high=_first_time(table.time, table.high, 0.5),
        confidence=float(confidence),
        table=table,
    )


def _table(times: FloatArray, seen: BoolArray, z: float) -> SurvivalTable:
    moments, events = np.unique(times[seen], return_counts=True)
    at_risk = times.size - np.searchsorted(np.sort(times), moments, side="left")
    survival: FloatArray = np.cumprod((at_risk - events) / at_risk).astype(np.float64)
    # Only the last event time can have survival 0; 0.5 stands in there against warnings, NaN replaces it below.
    alive = survival > 0.0
    safe = np.where(alive, survival, 0.5)
    spread = np.sqrt(np.cumsum(np.where(alive, events / (at_risk * np.maximum(at_risk - events, 1)), 0.0)))
    widen = np.exp(z * spread / -np.log(safe))
    return SurvivalTable(
        time=moments,
        at_risk=at_risk.astype(np.int64),
        events=events.astype(np.int64),
        survival=survival,
        se=np.where(alive, survival * spread, np.nan),
        low=np.where(alive, safe**widen, np.nan),
        high=np.where(alive, safe ** (1.0 / widen), np.nan),
    )


def _first_time(time: FloatArray, curve: FloatArray, level: float) -> float | None:
    """Least time at which the curve is at or below the level, forgiving rounding; NaN counts as not reached."""
    reached = np.flatnonzero(curve <= level + _SLACK)
    return float(time[reached[0]]) if reached.size else None
