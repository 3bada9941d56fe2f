"""How long pairs go without cover after a fault, and what the page on pairs cannot see, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say, say_counted
from pipeline.render.words import duration, share, times

Found = Mapping[str, Any]


def returning(found: Found) -> list[str]:
    """How long until cover is back after a single fault, in sentences; and how long the doubles seen lasted."""
    if found["cover"]["returns_count"]:
        lines = [_back(found["cover"])]
    else:
        lines = [say("No machine that failed alone was seen to come back before its booking ended.")]
    if found["doubles"]:
        waits = [double["neither_s"] for double in found["doubles"]]
        text = say_counted(
            "In the {n} double seen neither of the two was good for {sum} in all, the longest {longest}, as far as "
            "their bookings reached.",
            "In the {n} doubles seen neither of the two was good for {sum} in all, the longest {longest}, as far as "
            "their bookings reached.",
            len(waits),
            sum=duration(sum(waits)),
            longest=duration(max(waits)),
        )
        lines.append(text)
    return lines


def _back(cover: Found) -> str:
    text = say_counted(
        "{n} single fault left one machine good; both ran well again {times} before the booking ended: {wait} of "
        "waiting for each return (95 % limits {low} to {high}).",
        "{n} single faults left one machine good; both ran well again {times} before the booking ended: {wait} of "
        "waiting for each return (95 % limits {low} to {high}).",
        cover["waits_count"],
        times=times(cover["returns_count"]),
        wait=duration(cover["back_s"]["value"]),
        low=duration(cover["back_s"]["low"]),
        high=duration(cover["back_s"]["high"]),
    )
    if cover["median_s"] is None:
        return text
    return f"{text} {say('Half were back within {median}.', median=duration(cover['median_s']))}"


def not_known(found: Found) -> tuple[str, ...]:
    """What the page cannot see, for its last section."""
    lines = [
        say(
            "Shared causes that strike further apart than the window: both heads worn by one bad batch, both reels "
            "fading."
        ),
        say("Faults that no machine logs, and losses after the selector: both copies may be good and the air lost."),
        say("Whether two machines that fail together do so by the reel, the feed, the reference, the mains or a hand."),
    ]
    if found["others"] and found["others"]["shared_s"]:
        lines.append(
            say("Whether machines that are no registered pair should be one: they are judged together, as one line.")
        )
    least = found["room"]["least_share"]
    if least is not None and not found["room"]["is_named"]:
        lines.append(say("Whether a share smaller than {share} is there.", share=share(least, 1)))
    return tuple(lines)
