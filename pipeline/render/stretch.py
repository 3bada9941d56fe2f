"""What a page says of a stretch of time that is no incident, where it says something else than of one."""

from __future__ import annotations

from pipeline.render.reading import Row, Rows
from pipeline.render.sheet import WINDOW
from pipeline.render.words import Local, duration, spoken

NOTHING = "No interruption, no protect switch and no rescue lies in it."


def is_stretch(incident: Row) -> bool:
    """Whether the row stands for a stretch of time that is no incident."""
    return str(incident["incident"]).startswith(WINDOW)


def stretch_title(incident: Row, local: Local) -> str:
    """From when to when; the day of its end only where it is another."""
    started, ended = incident["started_at_utc"], incident["ended_at_utc"]
    day = "" if local.date(started) == local.date(ended) else f"{local.date(ended)}, "
    zone = "" if local.zone_name(started) == local.zone_name(ended) else f" {local.zone_name(ended)}"
    return f"{local.date(started)}, {local.time(started)} to {day}{local.time(ended)}{zone}"


def stretch_headline(incident: Row, parts: Rows, local: Local) -> str:
    """That it is no incident, how long it is, and the events that touch it with what they lost in all."""
    lasts = duration((incident["ended_at_utc"] - incident["started_at_utc"]).total_seconds())
    text = f"This is no incident but a time that was asked for: {lasts} of channel {incident['channel']}."
    if parts:
        lost = f"{duration(incident['lost_s'])} of air lost" if incident["lost_s"] else "no loss of air logged"
        told = spoken(len(parts), "event of the channel touches it and is", "events of the channel touch it and are")
        text += f" {told[:1].upper()}{told[1:]} told whole: {lost}."
    zones = [local.zone_name(incident[name]) for name in ("started_at_utc", "ended_at_utc")]
    if zones[0] != zones[1]:
        text += f" The clocks changed meanwhile: it begins in {zones[0]} and ends in {zones[1]}."
    return text
