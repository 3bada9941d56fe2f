"""An incident's strips: which machines stand on them, which moments are named, and what they say in words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from pipeline.render.language import say, say_counted
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.strip import Strip, draw_strip
from pipeline.render.strip_readout import strip_readout
from pipeline.render.strip_says import strip_says
from pipeline.render.strip_scene import NARROW, Scene
from pipeline.render.words import duration

CLOSE_PAD_S = 15.0
TABLES = (
    "states", "not_known", "motions", "offsets", "events", "tickets", "maintenance", "pair_states", "others_states",
    "others_events", "others_last",
)  # fmt: skip


def strips(reading: Reading, incident: Row, channel: str, parts: Rows) -> list[dict[str, Any]]:
    """The strip of one channel twice: the moments themselves, and the window from the lead before to the lead after.

    Each is a dict of strip, says (the text alternative), caption and readout (data of the page's script); where the two
    would be nearly the same, one.
    """
    scene = scene_of(reading, incident, channel, parts)
    started, ended = incident["started_at_utc"], incident["ended_at_utc"]
    lead, around = timedelta(seconds=reading.settings.lead_s), duration(reading.settings.lead_s)
    pad = timedelta(seconds=max(CLOSE_PAD_S, 0.5 * (ended - started).total_seconds()))
    close = (started - pad, ended + pad, say("The moments themselves, channel {channel}.", channel=channel))
    wide = say("From {around} before to {around} after, channel {channel}.", around=around, channel=channel)
    views = [(started - lead, ended + lead, wide)]
    if 2 * lead + (ended - started) > 3 * (2 * pad + (ended - started)):
        views.insert(0, close)
    figures = []
    for begin, end, words in views if lead else [close]:
        strip = draw_strip(scene, begin, end, reading.local)
        narrow = draw_strip(scene, begin, end, reading.local, NARROW)
        caption = _caption(words, strip)
        says = strip_says(scene, begin, end, reading.local)
        readout = strip_readout(scene, begin, end, reading.local)
        figures.append({"strip": strip, "narrow": narrow, "says": says, "caption": caption, "readout": readout})
    return figures


def _caption(words: str, strip: Strip) -> str:
    text = [
        words,
        say(
            "The heavy line is the way of the programme through the machines. A machine's bar shows its state, a thin "
            "line a stopped one; the row under the first machine shows whether air was covered."
        ),
    ]
    if any(lane.kind == "step" for lane in strip.lanes):
        text.append(say("In step: hatched where out of step, dotted where no offset had proved it."))
    if any(lane.kind == "room" for lane in strip.lanes):
        text.append(say("The low bars are the other transports of the room, a triangle a fault."))
    if strip.unlabelled:
        unlabelled = say_counted(
            "{n} mark had no room for words; all lines are listed below.",
            "{n} marks had no room for words; all lines are listed below.",
            strip.unlabelled,
        )
        text.append(unlabelled)
    return " ".join(text)


def scene_of(reading: Reading, incident: Row, channel: str, parts: Rows) -> Scene:
    """What the strip of one channel needs: the machine that failed on top, then those booked for air and as protect."""
    name = incident["incident"]
    rows = reading.around_of(name)
    own = [part for part in parts if part["channel"] == channel]
    roles = {row["machine"]: row["role"] or "" for row in rows["machines"]}
    first = next((part["machine"] for part in own if part["machine"]), None)
    places = {"air": 0, "protect": 1}
    order = sorted(roles, key=lambda machine: (machine != first, places.get(roles[machine], 2), machine))
    return Scene(
        channel=channel,
        machines=tuple(order),
        roles=roles,
        feeds=[row for row in rows["feeds"] if row["channel"] == channel],
        spans=[row for row in rows["spans"] if row["channel"] == channel],
        **{key: rows.get(key, []) for key in TABLES},
        keys=tuple(_keys(reading, own)),
        tolerance_s=reading.settings.sync_tolerance_s,
    )


def _keys(reading: Reading, parts: Rows) -> Iterator[tuple[datetime, str]]:
    time = reading.local.time
    for part in parts:
        started, ended, again = part["started_at_utc"], part["ended_at_utc"], part["covered_again_at_utc"]
        if part["onset_at_utc"] is not None and part["onset_at_utc"] < started:
            yield part["onset_at_utc"], say("onset")
        if part["recovery_no"] is None:
            yield started, say("another source {time}", time=time(started))
            yield ended, say("left {time}", time=time(ended))
        elif part["interruption_no"] is None:
            yield started, say("taken {time}", time=time(started))
        else:
            yield started, say("air lost {time}", time=time(started))
            if part["is_back"]:
                yield ended, say("air back {time}", time=time(ended))
        if again is not None and again > ended:
            word = say("covered again") if part["was_covered"] else say("covered")
            yield again, f"{word} {time(again)}"
