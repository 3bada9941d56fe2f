"""What a run found, as a paragraph that can be pasted into a mail: of the figures and the data checks, nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

PER_H = 3600


def summary(figures: Mapping[str, Any], failed_checks: Mapping[str, int]) -> str:
    """The paragraph. ``figures`` is the content of figures.json, ``failed_checks`` counts by severity.

    Air in hours; continuity is of logged programme, with its bounds (what is not known all lost, all good); the rate of
    protect switches is per 1,000 air hours with its exact 95 % limits, all as figures.json has them.
    """
    return " ".join(_sentences(figures, failed_checks))


def _sentences(figures: Mapping[str, Any], failed_checks: Mapping[str, int]) -> Iterator[str]:
    total = figures["total"]
    yield f"{figures['site']}, data as of {_as_of(figures)}."
    if total["air_s"] <= 0:
        yield "The bookings hold no air time up to there."
    else:
        yield _air(total)
        yield f"{_counted(total['interruptions'], 'interruption')} lost {total['lost_s']:,.1f} s of air."
        yield _switches(total)
        yield _demands(total)
        yield _not_known(total)
    yield _checks(failed_checks)


def _as_of(figures: Mapping[str, Any]) -> str:
    """The last stamp of the data in the site's own time."""
    if not figures.get("as_of"):
        return "no time: nothing is logged"
    at = datetime.fromisoformat(figures["as_of"]).astimezone(ZoneInfo(figures["timezone"]))
    return f"{at:%Y-%m-%d %H:%M} ({figures['timezone']})"


def _air(total: Mapping[str, Any]) -> str:
    shown = [_percent(total[name]) for name in ("continuity", "continuity_low", "continuity_high")]
    continuity = "not known" if shown[0] is None else f"{shown[0]} % (bounds {shown[1]} to {shown[2]} %)"
    return f"On air {total['air_s'] / PER_H:,.2f} h, continuity of logged programme {continuity}."


def _percent(ratio: float | None) -> str | None:
    return None if ratio is None else f"{ratio * 100:.4f}"


def _switches(total: Mapping[str, Any]) -> str:
    rate = total["protect_switches_per_1000_air_h"]
    kinds = f"{total['forced']} forced, {total['precaution']} as a precaution, {total['unexplained']} unexplained"
    return (
        f"{_counted(total['protect_switches'], 'protect switch', 'protect switches')} ({kinds}):"
        f" {rate['value']:,.1f} per 1,000 air h, 95 % limits {rate['low']:,.1f} to {rate['high']:,.1f}."
    )


def _demands(total: Mapping[str, Any]) -> str:
    if not total["demands"]:
        return "Protect was not needed."
    return f"Protect was needed {_times(total['demands'])} and met the demand {_times(total['demands_met'])}."


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _not_known(total: Mapping[str, Any]) -> str:
    share = total["unknown_s"] / total["air_s"]
    return f"Not known is the state of {total['unknown_s'] / PER_H:,.2f} h of air ({share * 100:.2f} %)."


def _checks(failed_checks: Mapping[str, int]) -> str:
    stops, notes = failed_checks.get("stop", 0), failed_checks.get("note", 0)
    told = f"{_counted(notes, 'data check')} of the note kind failed."
    if not stops:
        return f"No data check of the stop kind failed; {told}"
    failed = f"{_counted(stops, 'data check')} of the STOP kind failed: do not use the figures before reading which"
    return f"{failed}; {told}"


def _counted(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or f'{one}s'}"
