"""What a strip says at each of its instants, as plain data: the page's script reads it out beneath a hairline.

It holds nothing that the page does not tell: the words of the strip's lanes, each from when to when, in milliseconds
from the strip's beginning. A page without the script loses nothing but the reading out.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from pipeline.render.language import say
from pipeline.render.page_words import air_state
from pipeline.render.strip_lanes import GAP, QUIET, machine_stretches
from pipeline.render.strip_scene import Axis, Scene, event_words
from pipeline.render.table_words import source_word
from pipeline.render.words import Local

FINE_S = 900.0  # a shorter strip is read out to a hundredth of a second
SECOND = timedelta(seconds=1)
OpenStretch = tuple[datetime, datetime | None, str]  # one that has not ended ends with the strip


def strip_readout(scene: Scene, started: datetime, ended: datetime, local: Local) -> str:
    """The data of the strip of ``scene`` from ``started`` to ``ended`` (naive UTC) as JSON.

    ``from`` is the beginning in ms since 1970 (UTC), ``to`` the length and ``start`` the first named moment in ms;
    ``offsets``: from when (ms) the wall clock is how many seconds ahead of UTC, and its name. ``lanes``: name,
    ``spans`` (from, to, words) and ``said`` (when, words) of a machine's log.
    """
    axis = Axis(started, ended)
    moments = [at for at, _ in scene.keys if axis.holds(at)]
    data = {
        "from": _ms(started, datetime(1970, 1, 1)),  # noqa: DTZ001 - naive UTC, as all instants here
        "to": _ms(ended, started),
        "start": _ms(min(moments, default=started), started),
        "places": (ended - started).total_seconds() <= FINE_S,
        "offsets": [[_ms(at, started), *_offset(local, at)] for at in _clock_changes(local, started, ended)],
        "lanes": list(_lanes(scene, axis)),
        "words": _words(),
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def _words() -> dict[str, str]:
    return {
        "label": say("Look closer"),
        "slider": say("Time"),
        "before": say("Change before"),
        "after": say("Change after"),
        "larger": say("Larger (+)"),
        "smaller": say("Smaller (−)"),
        "said": say("last said {{what}} at {{time}}"),
    }


def _ms(at: datetime, origin: datetime) -> int:
    return round((at - origin).total_seconds() * 1000)


def _offset(local: Local, at: datetime) -> tuple[int, str]:
    wall = local.wall(at)
    ahead = wall.utcoffset() or timedelta()
    return round(ahead.total_seconds()), local.zone_name(at)


def _clock_changes(local: Local, started: datetime, ended: datetime) -> Iterator[datetime]:
    """The beginning, and the instant in between from which the wall clock is another; a strip has at most one."""
    yield started
    if _offset(local, started) != _offset(local, ended):
        low, high = started, ended
        while high - low > SECOND:
            middle = low + (high - low) / 2
            low, high = (middle, high) if _offset(local, middle) == _offset(local, started) else (low, middle)
        yield high.replace(microsecond=0)


def _lanes(scene: Scene, axis: Axis) -> Iterator[dict[str, object]]:
    feeds = [(row["started_at_utc"], row["ended_at_utc"], source_word(row["feed"])) for row in scene.feeds]
    yield {"name": say("Selector"), "nothing": say("no programme booked"), "spans": _spans(feeds, axis)}
    air = [(row["started_at_utc"], row["ended_at_utc"], air_state(row)) for row in scene.spans]
    yield {"name": say("Air"), "nothing": say("no air of this room"), "spans": _spans(air, axis)}
    for machine in scene.machines:
        spans = _spans(_machine(scene, machine, axis), axis) + _spans(_unknown(scene, machine), axis)
        yield {"name": machine, "nothing": say("not known"), "spans": spans, "said": _said(scene, machine, axis)}
    for one, other in dict.fromkeys((row["machine_a"], row["machine_b"]) for row in scene.pair_states):
        name = say("{one} with {other}", one=one, other=other)
        spans = _spans(_steps(scene, one, other), axis)
        yield {"name": name, "nothing": say("not both rolling and in lock"), "spans": spans}


def _spans(stretches: Iterable[OpenStretch], axis: Axis) -> list[list[object]]:
    held = [(max(begin, axis.started), min(end or axis.ended, axis.ended), words) for begin, end, words in stretches]
    return [[_ms(begin, axis.started), _ms(end, axis.started), words] for begin, end, words in held if begin < end]


def _machine(scene: Scene, machine: str, axis: Axis) -> list[OpenStretch]:
    words = {
        "covered": say("good"), "lost": say("rolling and not good"), "stopped": say("stopped"), GAP: say("not known"),
    }  # fmt: skip
    return [(begin, end, words[fill]) for begin, end, fill in machine_stretches(scene, machine, axis)]


def _unknown(scene: Scene, machine: str) -> list[OpenStretch]:
    """What is not known goes over all else, as it is drawn: the script takes the last stretch that holds an instant."""
    own = [row for row in scene.not_known if row["machine"] == machine]
    return [(row["started_at_utc"], row["ended_at_utc"], say("not known")) for row in own]


def _steps(scene: Scene, one: str, other: str) -> list[OpenStretch]:
    words = {True: say("in step"), False: say("out of step"), None: say("not proved in step")}
    return [
        (row["started_at_utc"], row["ended_at_utc"], words[row["is_in_step"]])
        for row in scene.pair_states
        if (row["machine_a"], row["machine_b"]) == (one, other)
    ]


def _said(scene: Scene, machine: str, axis: Axis) -> list[list[object]]:
    return [
        [_ms(row["at_utc"], axis.started), event_words(row)]
        for row in scene.events
        if row["machine"] == machine and row["event"] not in QUIET and axis.holds(row["at_utc"])
    ]
