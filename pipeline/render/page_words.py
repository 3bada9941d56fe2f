"""Small words the templates ask for beside numbers: what a part is, whether a time was reached, how old a thing is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from pipeline.render.words import counted, duration, figure, limits

FROM_WORDS = (
    "continuity", "counted", "duration", "figure", "hours", "limits", "listed", "month_name", "percent", "rate",
    "share",
)  # fmt: skip


def what(part: Mapping[str, Any]) -> str:
    """What a part of an incident is, in a few words."""
    if part["recovery_no"] is None:
        return "rescue by another source"
    if part["interruption_no"] is None:
        return f"{part['kind']} switch, no loss logged"
    if part["kind"]:
        return f"interruption, {part['kind']} switch"
    return "interruption, healed" if part["is_healed"] else "interruption"


def reached(seconds: float | None) -> str:
    """A quantile of recovery times; None is "not reached"."""
    return "not reached" if seconds is None else duration(seconds)


def cut(seconds: float | None, is_whole: bool | None) -> str:
    """A recovery time, marked where it was cut short; empty where it does not apply."""
    if seconds is None:
        return ""
    return duration(seconds) if is_whole else f"{duration(seconds)}, cut"


def days(seconds: float | None) -> str:
    """An age: below two days as a duration, else whole days."""
    if seconds is None:
        return "not known"
    return duration(seconds) if seconds < 172_800 else counted(int(seconds // 86_400), "day")


def ratio(compared: Mapping[str, Any]) -> str:
    """A ratio of rates with its limits."""
    high = "no limit" if compared["high"] is None else figure(compared["high"])
    middle = "n/a" if compared["ratio"] is None else figure(compared["ratio"])
    return f"{middle} ({figure(compared['low'])} to {high})"


def p_value(p: float) -> str:
    """A p-value without its letter."""
    return "below 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.01 else f"{p:.2f}"


def seconds(value: float | None) -> str:
    """A signed offset in seconds, to a hundredth."""
    return "not known" if value is None else f"{value:+.2f} s".replace("-", "−")


def ppm(value: float | None) -> str:
    """A drift in parts per million."""
    return "not known" if value is None else f"{value:+.1f} ppm".replace("-", "−")


def instant(text: str) -> str:
    """A stamp of figures.json as a machine's own clock wrote it, UTC, to the second."""
    at = datetime.fromisoformat(text.replace("Z", "+00:00"))
    return f"{at:%Y-%m-%d %H:%M:%S} UTC"


FUNCTIONS: dict[str, Callable[..., str]] = {
    "what": what, "reached": reached, "cut": cut, "days": days, "ratio": ratio, "p_value": p_value, "seconds": seconds,
    "ppm": ppm, "instant": instant, "limits": limits,
}  # fmt: skip
