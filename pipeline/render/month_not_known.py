"""What the logs of a month leave open, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say, whole
from pipeline.render.month_quality import month_of
from pipeline.render.reading import Reading, Rows
from pipeline.render.table_words import source_word
from pipeline.render.words import counted, hours


def not_known_lines(reading: Reading, month: Mapping[str, Any], parts: Rows) -> tuple[str, ...]:
    """The sentences of the section "What is not known"; the last is true of every month."""
    lines = [*_ends(reading, month), *_holes(reading, month), *_cover(month), *_events(parts)]
    if month["lost_s"] == 0 and month["unknown_s"] > 0:
        lines.append(say("Whether the month was clean: it lost nothing that is logged, and the logs have holes."))
    lines.append(
        say(
            "What viewers saw where a machine logs no loss of picture or sound; continuity is that of logged programme."
        )
    )
    return tuple(lines)


def _ends(reading: Reading, month: Mapping[str, Any]) -> list[str]:
    if reading.as_of is None or month_of(reading.site["site_months"], reading.as_of) != month["month"]:
        return []
    when = reading.local.when(reading.as_of)
    return [say("What happened after {when}: the data end there, maybe inside the month.", when=when)]


def _holes(reading: Reading, month: Mapping[str, Any]) -> list[str]:
    return [
        say(
            "{hours} of air on channel {channel} fed by {feed}: its log says nothing ({stretches}).",
            hours=hours(hole["unknown_s"]), channel=hole["channel"], feed=source_word(hole["feed"]),
            stretches=counted(hole["spans_count"], "stretch", "stretches"),
        )
        for hole in reading.site["holes"]
        if hole["month"] == month["month"]
    ]  # fmt: skip


def _cover(month: Mapping[str, Any]) -> list[str]:
    if not month["unproved_s"]:
        return []
    return [
        say(
            "Whether protect was in step in {hours} of good air: nothing logged proves it.",
            hours=hours(month["unproved_s"]),
        )
    ]


def _events(parts: Rows) -> list[str]:
    events = [part for part in parts if part["recovery_no"] is not None]  # a rescue has no cause and no ticket
    causes = sum(part["top"] == "unknown" for part in events)
    onsets = sum(part["onset_at_utc"] is None for part in events)
    lines = []
    if causes:
        lines.append(say("The cause of {some} of {all}.", some=counted(causes, "event"), all=whole(len(events))))
    if onsets:
        lines.append(
            say(
                "When the trouble began in {events}: no fault and no alarm is logged before the take.",
                events=counted(onsets, "event"),
            )
        )
    return lines
