"""What is said of recordings where nothing stands out: what was held against what, and what would have been found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

from pipeline.render.language import say
from pipeline.render.words import counted, hours, listed, percent, times

Found = Mapping[str, Any]
HOUR_S = 3600


def playback(played_h: float) -> str:
    """Hours of playback in words."""
    return say("{hours} of playback", hours=hours(played_h * HOUR_S))


def faults_in(count: int, played_h: float) -> str:
    """Such as "20 faults in 500.0 h of playback"."""
    return say("{faults} in {playback}", faults=counted(count, "fault"), playback=playback(played_h))


def nothing_named(found: Found) -> str:
    """That nothing stands out among those that could be compared, and what these hours would have found."""
    faults, worse = found["faults"], times(round(found["times_worse"]))
    text = _held_apart(found, faults_in(faults["counted_count"], faults["played_h"]))
    parts = []
    if chances := _chances(found["recorders"]):
        sure = _spanned(chances) or say("for the middle recorder {middle}, from {low} to {high}", **_spread(chances))
        parts.append(say("a recorder {worse} as bad as the others ({sure})", worse=worse, sure=sure))
    if chances := _chances(found["players"]):
        sure = _spanned(chances) or say(
            "for the middle playing machine {middle}, from {low} to {high}", **_spread(chances)
        )
        parts.append(say("a playing machine {worse} as bad as the others ({sure})", worse=worse, sure=sure))
    return f"{text} {say('These hours would have found {parts}.', parts=listed(parts))}" if parts else text


def _chances(rows: Sequence[Found]) -> list[float]:
    return [row["found_ratio"] for row in rows if row["found_ratio"] is not None]


def _spanned(chances: Sequence[float]) -> str:
    """The one chance, where all read alike; else empty."""
    low, high = percent(min(chances)), percent(max(chances))
    return say("with a chance of {chance}", chance=low) if low == high else ""


def _spread(chances: Sequence[float]) -> dict[str, str]:
    return {"middle": percent(median(chances)), "low": percent(min(chances)), "high": percent(max(chances))}


def _held_apart(found: Found, size: str) -> str:
    """That nothing stands out among those that could be held against each other, and who could not be."""
    judged = [word for rows, word in _roles(found) if any(row["p"] is not None for row in rows)]
    if judged:
        text = say(
            "Nothing points to one {names}: {size} fall on them as luck easily lets them.", names=_or(judged), size=size
        )
    else:
        text = say("Nobody could be held against anybody: {size} leave nothing to compare.", size=size)
    if any(row["p"] is not None for row in found["players"]):
        return text
    apart = say(
        "The playing machines could not be held against each other: no reel with a fault was played on two of them in "
        "one role."
    )
    return f"{text} {apart}"


def _roles(found: Found) -> list[tuple[Sequence[Found], str]]:
    return [
        (found["players"], say("player")),
        (found["recorders"], say("recorder")),
        (found["recordists"], say("shift")),
    ]


def _or(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return say("{parts} or {last}", parts=", ".join(words[:-1]), last=words[-1])
