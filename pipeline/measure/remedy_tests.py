"""Whether a machine has fewer events since a remedy than before it, with chance allowed for.

One quiet month is what luck gives easily, so that no remedy is called a success on it. The words are kept to three:
fewer, more, or cannot be told yet; beside them stands how long a quiet would have to last before it said anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.measure.transports.finite import finite
from pipeline.statistics import benjamini_hochberg, rate_ratio, rate_ratio_power

LEVEL = 0.05  # the usual line between what chance gives easily and what it gives seldom
HALVED = 0.5
HOUR_S = 3600.0


@dataclass(frozen=True)
class Tally:
    """Events and air seconds of one machine before a remedy and since."""

    before: int
    since: int
    before_s: float
    since_s: float

    @property
    def is_testable(self) -> bool:
        """Whether there is air on both sides, and an event on either: else there is nothing to compare."""
        return self.before_s > 0 and self.since_s > 0 and self.before + self.since > 0


def judge_all(tallies: Sequence[Tally]) -> list[dict[str, Any]]:
    """The comparisons of one month's remedies, each as a dict of plain values, p adjusted for their number.

    ``before`` and ``since`` are counts. ``ratio`` is the rate since over that before, with exact conditional 95 %
    limits and two-sided p (`rate_ratio`); ``adjusted_p`` by Benjamini and Hochberg over all comparisons that can be
    made. Those without any event are none of them: the test is conditional on the total, so that choosing by the total
    favours no answer (Tarone 1990, Biometrics 46:515-522). ``says``: "fewer" or "more" where the adjusted p is below
    0.05, else "cannot be told yet". ``quiet_h``: see `quiet_hours`, at 0.05 over the number of comparisons.
    ``half_power``: the chance that the air hours since would call a remedy that halves the rate "fewer", were it the
    only one to differ (`rate_ratio_power`, the rate before taken as it was seen). What cannot be worked out is None.
    """
    places = [place for place, tally in enumerate(tallies) if tally.is_testable]
    results = [_ratio(tallies[place]) for place in places]
    adjusted = benjamini_hochberg([result[3] for result in results]) if results else ()
    tested = {place: (*result, float(p)) for place, result, p in zip(places, results, adjusted, strict=True)}
    level = LEVEL / max(len(places), 1)
    return [_judged(tally, tested.get(place), level) for place, tally in enumerate(tallies)]


def _ratio(tally: Tally) -> tuple[float, float, float, float]:
    return rate_ratio(tally.since, tally.since_s, tally.before, tally.before_s)


def _judged(tally: Tally, numbers: tuple[float, ...] | None, level: float) -> dict[str, Any]:
    row: dict[str, Any] = {"before": tally.before, "since": tally.since}
    if numbers is None:
        nothing = dict.fromkeys(("ratio", "low", "high", "p", "adjusted_p", "quiet_h", "half_power"))
        return {**row, **nothing, "says": says(None, None)}
    ratio, low, high, p, adjusted_p = numbers
    before_h, since_h = tally.before_s / HOUR_S, tally.since_s / HOUR_S
    return {
        **row,
        "ratio": finite(ratio),
        "low": low,
        "high": finite(high),
        "p": p,
        "adjusted_p": adjusted_p,
        "quiet_h": quiet_hours(tally.before, before_h, level),
        "half_power": rate_ratio_power(HALVED, since_h, before_h, tally.before / before_h, level=level),
        "says": says(ratio, adjusted_p),
    }


def says(ratio: float | None, adjusted_p: float | None) -> str:
    """The word for a comparison; None stands for one that could not be made."""
    if ratio is None or adjusted_p is None or not adjusted_p < LEVEL:
        return "cannot be told yet"
    return "fewer" if ratio < 1 else "more"


def quiet_hours(count: int, hours: float, level: float) -> float | None:
    """Air hours without one event after which a quiet would be more than luck gives easily; None where none would.

    With ``count`` events in ``hours`` before and none in t since, at one rate each of the events falls before with
    chance q = hours / (hours + t), so that the exact two-sided p is 2 qⁿ. It is below ``level`` once t exceeds
    hours ((2 / level)^(1/n) − 1). Assumes Poisson events at one rate. Reference: Przyborowski and Wilenski (1940),
    Biometrika 31:313-323, the conditional test at a count of 0.
    """
    return hours * ((2.0 / level) ** (1.0 / count) - 1.0) if count else None
