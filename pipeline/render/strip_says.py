"""A strip in words, for those who do not see it: what fed the channel, whether air was covered, what each machine did.

The same rows as the picture, in the order in which one asks: when air was lost and back, who fed, what cover stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from pipeline.render.language import say
from pipeline.render.page_words import air_state
from pipeline.render.strip_lanes import GAP, Stretch, booked_as, machine_told
from pipeline.render.strip_scene import Axis, Scene
from pipeline.render.table_words import source_word
from pipeline.render.words import Local, counted

MOST = 8  # stretches told of one lane; all lines are listed on the page


def strip_says(scene: Scene, started: datetime, ended: datetime, local: Local) -> str:
    """The strip of ``scene`` from ``started`` to ``ended`` (naive UTC) as sentences; times are ``local``."""
    axis = Axis(started, ended)
    begin, end = local.time(started), local.time(ended)
    told = [say("Channel {channel}, {begin} to {end}.", channel=scene.channel, begin=begin, end=end)]
    keys = [label for at, label in sorted(scene.keys) if axis.holds(at)]
    told += [say("Moments: {moments}.", moments="; ".join(keys))] if keys else []
    feeds = _cut(axis, [(row["started_at_utc"], row["ended_at_utc"], source_word(row["feed"])) for row in scene.feeds])
    told.append(say("Selector: {feeds}.", feeds=_from(feeds, local) or say("no programme booked")))
    spans = _cut(axis, [(row["started_at_utc"], row["ended_at_utc"], air_state(row)) for row in scene.spans])
    told.append(say("Air: {spans}.", spans=_from_to(spans, local) or say("none")))
    told += [_machine(scene, machine, axis, local) for machine in scene.machines]
    told += _others(scene, axis)
    return " ".join(told)


def _cut(axis: Axis, stretches: Iterable[Stretch]) -> list[Stretch]:
    """The stretches as far as they lie in the window; those that say the same one after the other are one."""
    held = [(max(begin, axis.started), min(end, axis.ended), words) for begin, end, words in stretches]
    found: list[Stretch] = []
    for begin, end, words in held:
        if begin >= end:
            continue
        if found and found[-1][1:] == (begin, words):
            found[-1] = (found[-1][0], end, words)
        else:
            found.append((begin, end, words))
    return found


def _machine(scene: Scene, machine: str, axis: Axis, local: Local) -> str:
    """What one machine was booked for and did."""
    words = {
        "covered": say("good"), "lost": say("rolling and not good"), "stopped": say("stopped"), GAP: say("not known"),
    }  # fmt: skip
    stretches = [(begin, end, words[fill]) for begin, end, fill in machine_told(scene, machine, axis)]
    did = _from(_cut(axis, stretches), local)
    return say("{machine}, {booked}: {did}.", machine=machine, booked=booked_as(scene, machine), did=did)


def _others(scene: Scene, axis: Axis) -> list[str]:
    """How many other machines stand below, and which of them logged a fault."""
    others = dict.fromkeys(row["machine"] for row in scene.others_last)
    if not others:
        return []
    faults = dict.fromkeys(
        row["machine"]
        for row in scene.others_events
        if row["machine"] in others and row["event"] not in ("roll", "stop") and axis.holds(row["at_utc"])
    )
    named = say("faults on {machines}", machines=", ".join(faults)) if faults else say("no fault on them")
    return [say("Below: {machines}, {faults}.", machines=counted(len(others), "other transport"), faults=named)]


def _from(stretches: Sequence[Stretch], local: Local) -> str:
    told = [say("{what} from {begin}", what=words, begin=local.time(begin)) for begin, _, words in stretches[:MOST]]
    return "; ".join([*told, *_more(stretches)])


def _from_to(stretches: Sequence[Stretch], local: Local) -> str:
    told = [
        say("{what} from {begin} to {end}", what=words, begin=local.time(begin), end=local.time(end))
        for begin, end, words in stretches[:MOST]
    ]
    return "; ".join([*told, *_more(stretches)])


def _more(stretches: Sequence[Stretch]) -> list[str]:
    return [say("and {n} more", n=len(stretches) - MOST)] if len(stretches) > MOST else []
