"""What a page says of a stretch of time that is no incident, where it says something else than of one."""

from __future__ import annotations

from pipeline.render.language import say
from pipeline.render.reading import Row, Rows
from pipeline.render.sheet import WINDOW
from pipeline.render.words import Local, capital, duration, spoken


def nothing() -> str:
    """What is said where no event touches it."""
    return say("No interruption, no protect switch and no rescue lies in it.")


def is_stretch(incident: Row) -> bool:
    """Whether the row stands for a stretch of time that is no incident."""
    return str(incident["incident"]).startswith(WINDOW)


def stretch_title(incident: Row, local: Local) -> str:
    """From when to when; the day of its end only where it is another."""
    started, ended = incident["started_at_utc"], incident["ended_at_utc"]
    day = "" if local.date(started) == local.date(ended) else f"{local.date(ended)}, "
    zone = "" if local.zone_name(started) == local.zone_name(ended) else f" {local.zone_name(ended)}"
    end = f"{day}{local.time(ended)}{zone}"
    return say("{date}, {time} to {end}", date=local.date(started), time=local.time(started), end=end)


def stretch_headline(incident: Row, parts: Rows, local: Local) -> str:
    """That it is no incident, how long it is, and the events that touch it with what they lost in all."""
    lasts = duration((incident["ended_at_utc"] - incident["started_at_utc"]).total_seconds())
    channel = incident["channel"]
    text = [
        say(
            "This is no incident but a time that was asked for: {lasts} of channel {channel}.",
            lasts=lasts,
            channel=channel,
        )
    ]
    if parts:
        told = spoken(len(parts), "event of the channel touches it and is", "events of the channel touch it and are")
        text.append(say("{events} told whole: {lost}.", events=capital(told), lost=lost_air(incident["lost_s"])))
    began, ended = (local.zone_name(incident[name]) for name in ("started_at_utc", "ended_at_utc"))
    if began != ended:
        text.append(
            say("The clocks changed meanwhile: it begins in {began} and ends in {ended}.", began=began, ended=ended)
        )
    return " ".join(text)


def lost_air(lost_s: float | None) -> str:
    """How much air was lost, or that no loss is logged, in the middle of a sentence."""
    return say("{lost} of air lost", lost=duration(lost_s)) if lost_s else say("no loss of air logged")
