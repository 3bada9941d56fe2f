"""An incident's strips: which machines stand on them, which moments are named, and what they say in words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.strip import Strip, draw_strip
from pipeline.render.strip_scene import NARROW, Scene
from pipeline.render.words import counted, duration

CLOSE_PAD_S = 15.0
TABLES = (
    "states", "not_known", "motions", "offsets", "events", "tickets", "maintenance", "pair_states", "others_states",
    "others_events", "others_last",
)  # fmt: skip


def strips(reading: Reading, incident: Row, channel: str, parts: Rows) -> list[dict[str, Any]]:
    """The strip of one channel twice: the moments themselves, and the window from the lead before to the lead after.

    Each is a dict of strip, says (the text alternative) and caption; where the two would be nearly the same, one.
    """
    scene = scene_of(reading, incident, channel, parts)
    started, ended = incident["started_at_utc"], incident["ended_at_utc"]
    lead, around = timedelta(seconds=reading.settings.lead_s), duration(reading.settings.lead_s)
    pad = timedelta(seconds=max(CLOSE_PAD_S, 0.5 * (ended - started).total_seconds()))
    views = [(started - lead, ended + lead, f"From {around} before to {around} after")]
    if 2 * lead + (ended - started) > 3 * (2 * pad + (ended - started)):
        views.insert(0, (started - pad, ended + pad, "The moments themselves"))
    figures = []
    for begin, end, words in views if lead else [(started - pad, ended + pad, "The moments themselves")]:
        strip = draw_strip(scene, begin, end, reading.local)
        narrow = draw_strip(scene, begin, end, reading.local, NARROW)
        caption = _caption(words, channel, strip)
        says = strip_says(scene, begin, end, reading)
        figures.append({"strip": strip, "narrow": narrow, "says": says, "caption": caption})
    return figures


def _caption(words: str, channel: str, strip: Strip) -> str:
    text = (
        f"{words}, channel {channel}. The heavy line is the way of the programme through the machines. A machine's bar "
        "shows its state, a thin line a stopped one; the row under the first machine shows whether air was covered."
    )
    if any(lane.kind == "step" for lane in strip.lanes):
        text += " In step: hatched where out of step, dotted where no offset had proved it."
    if any(lane.kind == "room" for lane in strip.lanes):
        text += " The low bars are the other transports of the room, a triangle a fault."
    if strip.unlabelled:
        text += f" {counted(strip.unlabelled, 'mark')} had no room for words; all lines are listed below."
    return text


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
            yield part["onset_at_utc"], "onset"
        if part["recovery_no"] is None:
            yield started, f"another source {time(started)}"
            yield ended, f"left {time(ended)}"
        elif part["interruption_no"] is None:
            yield started, f"taken {time(started)}"
        else:
            yield started, f"air lost {time(started)}"
            if part["is_back"]:
                yield ended, f"air back {time(ended)}"
        if again is not None and again > ended:
            word = "covered again" if part["was_covered"] else "covered"
            yield again, f"{word} {time(again)}"


def strip_says(scene: Scene, started: datetime, ended: datetime, reading: Reading) -> str:
    """The strip in words, for those who do not see it."""
    time = reading.local.time
    feeds = [
        f"{row['feed']} from {time(max(row['started_at_utc'], started))}"
        for row in scene.feeds
        if max(row["started_at_utc"], started) < min(row["ended_at_utc"], ended)
    ]
    air = [
        f"{row['state']} from {time(max(row['started_at_utc'], started))} to {time(min(row['ended_at_utc'], ended))}"
        for row in scene.spans
        if max(row["started_at_utc"], started) < min(row["ended_at_utc"], ended)
    ]
    return (
        f"Channel {scene.channel}, {time(started)} to {time(ended)}. Selector: "
        f"{'; '.join(feeds) or 'no programme booked'}. Air: {'; '.join(air) or 'none'}."
    )
