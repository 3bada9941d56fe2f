"""The lanes of a strip, each from its rows: sources, machines, air, the pair's offset, tickets and maintenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

from pipeline.render.language import decimal, say
from pipeline.render.reading import Rows
from pipeline.render.strip_marks import Mark, place_marks
from pipeline.render.strip_scene import Axis, Bar, Lane, Scene, event_words

HEIGHTS = {"source": 34.0, "machine": 40.0, "air": 34.0, "offset": 46.0, "row": 36.0, "step": 36.0, "room": 18.0}
WORDS_Y, LINE = 46.0, 12.0  # a machine's lane with one line of words under its bar, and each line more
MOST_LINES = 3
SOURCES = ("other", "standby")
# A machine's state → hatch; what is neither proved good nor not good is not known.
FILLS = {"good": "covered", "not good": "lost"}
GAP = "not-known"
# Said often and meaning little on a strip; offsets have their own lane.
QUIET = frozenset({"alive", "hours", "clock", "offset"})
Stretch = tuple[datetime, datetime, str]


def all_lanes(scene: Scene, axis: Axis, top: float) -> tuple[Lane, ...]:
    """Every lane the window needs, from ``top`` down: the first machine, air, then the other machines."""
    order = path_order(scene, axis)
    drafts: list[Lane | None] = [_source_lane(source) for source in order if source not in scene.machines]
    walls = [_walls(scene, axis, order, place) for place in range(len(order))][len(drafts) :]
    machines = [_machine_lane(scene, axis, *one) for one in zip(scene.machines, walls, strict=True)]
    drafts += [*machines[:1], _air_lane(scene, axis), *machines[1:]]
    drafts += [*step_lanes(scene, axis), _offset_lane(scene, axis)]
    drafts += [_ticket_lane(scene, axis), _maintenance_lane(scene, axis), *room_lanes(scene, axis)]
    lanes, y = [], top + axis.shape.head
    for draft in drafts:
        if draft is not None:
            dots = tuple((x, round(y + down, 1), is_within) for x, down, is_within in draft.dots)
            lanes.append(Lane(draft.kind, draft.name, draft.note, y, draft.height, draft.bars, draft.marks, dots))
            y += draft.height + axis.shape.head
    return tuple(lanes)


def path_order(scene: Scene, axis: Axis) -> tuple[str, ...]:
    """What can feed the channel, from top to bottom: other sources that did, then the machines."""
    used = {row["feed"] for row in axis.within(scene.feeds)}
    return (*(source for source in SOURCES if source in used and source not in scene.machines), *scene.machines)


def path_lanes(lanes: Sequence[Lane]) -> list[Lane]:
    """The lanes of those, in the same order."""
    return [lane for lane in lanes if lane.kind in ("source", "machine")]


def worded(lane: Lane) -> tuple[Mark, ...]:
    """The marks of a lane that should have words: those of the room's other machines are signs alone."""
    return () if lane.kind == "room" else lane.marks


def _walls(scene: Scene, axis: Axis, order: Sequence[str], place: int) -> list[float]:
    """Where the way of the programme crosses the words under a lane, for it moves to or from one further down."""
    places = {source: number for number, source in enumerate(order)}
    walls = []
    for one, other in pairwise(axis.within(scene.feeds)):
        if one["ended_at_utc"] == other["started_at_utc"] and {one["feed"], other["feed"]} <= set(places):
            upper, lower = sorted((places[one["feed"]], places[other["feed"]]))
            walls += [axis.x(other["started_at_utc"])] if upper <= place < lower else []
    return walls


def _lane(kind: str, name: str, note: str, bars: Sequence[Bar | None], marks: Sequence[Mark] = ()) -> Lane:
    kept = tuple(bar for bar in bars if bar is not None)
    return Lane(kind, name, note, 0.0, HEIGHTS[kind], kept, tuple(marks))


def _place(marks: Sequence[Mark], levels: int, axis: Axis, walls: Sequence[float] = ()) -> list[Mark]:
    return place_marks(marks, levels, axis.shape.width, left=axis.shape.left, walls=walls)


def _source_lane(source: str) -> Lane:
    if source == "standby":
        return _lane("source", say("standby"), say("slate or black"), [])
    return _lane("source", say("another source"), say("not of this room"), [])


def _machine_lane(scene: Scene, axis: Axis, machine: str, walls: Sequence[float]) -> Lane:
    bars = [axis.bar(started, ended, fill) for started, ended, fill in machine_told(scene, machine, axis)]
    marks = [
        Mark(axis.x(row["at_utc"]), event_words(row), row["event"] in ("alarm", "clear"))
        for row in scene.events
        if row["machine"] == machine and row["event"] not in QUIET and axis.holds(row["at_utc"])
    ]
    placed = _place(marks, MOST_LINES, axis, walls)
    lane = _lane("machine", machine, booked_as(scene, machine), bars, placed)
    deepest = max((mark.level for mark in placed), default=-1)
    return lane if deepest < 0 else replace(lane, height=WORDS_Y + LINE * deepest)


def booked_as(scene: Scene, machine: str) -> str:
    """What a machine of the strip was booked for."""
    known = {"air": say("booked for air"), "protect": say("booked as protect")}
    return known.get(scene.roles.get(machine, ""), say("not booked here"))


def machine_told(scene: Scene, machine: str, axis: Axis) -> list[Stretch]:
    """As ``machine_stretches``, with the word that the machine is not known over its bare state."""
    found = machine_stretches(scene, machine, axis)
    for row in axis.within([row for row in scene.not_known if row["machine"] == machine]):
        started, ended = max(row["started_at_utc"], axis.started), min(row["ended_at_utc"], axis.ended)
        kept = [piece for stretch in found for piece in _outside(stretch, started, ended)]
        found = sorted([*kept, (started, ended, GAP)])
    return found


def _outside(stretch: Stretch, started: datetime, ended: datetime) -> list[Stretch]:
    begin, end, fill = stretch
    pieces = [(begin, min(end, started), fill), (max(begin, ended), end, fill)]
    return [piece for piece in pieces if piece[0] < piece[1]]


def machine_stretches(scene: Scene, machine: str, axis: Axis) -> list[Stretch]:
    """(start, end, fill) of a machine through the window: a stopped one is told from one that rolls and is not good."""
    return _stretches(
        [row for row in scene.states if row["machine"] == machine],
        [row for row in scene.motions if row["machine"] == machine],
        axis,
    )


def _stretches(states: Rows, motions: Rows, axis: Axis) -> list[Stretch]:
    stretches: list[Stretch] = []
    reached = axis.started
    for row in states:
        started, ended = max(row["started_at_utc"], axis.started), min(row["ended_at_utc"] or axis.ended, axis.ended)
        if started > reached:
            stretches.append((reached, started, GAP))
        if ended > started and row["state"] == "not good":
            stretches += _by_motion(started, ended, motions)
        elif ended > started:
            stretches.append((started, ended, FILLS.get(row["state"], GAP)))
        reached = max(reached, ended)
    return [*stretches, (reached, axis.ended, GAP)] if reached < axis.ended else stretches


def _by_motion(started: datetime, ended: datetime, motions: Rows) -> list[Stretch]:
    cuts = [started, *(row["at_utc"] for row in motions if started < row["at_utc"] < ended), ended]
    pieces = []
    for begin, end in pairwise(cuts):
        last = [row["event"] for row in motions if row["at_utc"] <= begin]
        pieces.append((begin, end, "stopped" if last and last[-1] == "stop" else "lost"))
    return [piece for piece in pieces if piece[1] > piece[0]]


def _air_lane(scene: Scene, axis: Axis) -> Lane:
    bars = [
        axis.bar(row["started_at_utc"], row["ended_at_utc"], GAP if row["state"] == "unknown" else row["state"])
        for row in scene.spans
    ]
    return _lane("air", say("air, channel {channel}", channel=scene.channel), say("covered?"), bars)


def _offset_lane(scene: Scene, axis: Axis) -> Lane | None:
    reach, middle = 3 * scene.tolerance_s or 1.0, HEIGHTS["offset"] / 2
    dots = tuple(
        (axis.x(row["at_utc"]), middle - 18 * max(-1.0, min(1.0, row["offset_s"] / reach)), bool(row["is_within"]))
        for row in scene.offsets
        if axis.holds(row["at_utc"])
    )
    note = say("grey: within ± {tolerance} ms", tolerance=decimal(scene.tolerance_s * 1000, 0))
    return Lane("offset", say("offset of the pair"), note, 0.0, HEIGHTS["offset"], dots=dots) if dots else None


def step_lanes(scene: Scene, axis: Axis) -> Iterator[Lane]:
    """One lane a pair that was rolling and locked together: in step, out of step, or not yet proved; else empty."""
    names = {True: "covered", False: "exposed", None: "unproved"}
    pairs = dict.fromkeys((row["machine_a"], row["machine_b"]) for row in scene.pair_states)
    for one, other in pairs:
        own = [row for row in scene.pair_states if (row["machine_a"], row["machine_b"]) == (one, other)]
        bars = [axis.bar(row["started_at_utc"], row["ended_at_utc"], names[row["is_in_step"]]) for row in own]
        if any(bars):
            yield _lane("step", say("in step?"), say("{one} with {other}", one=one, other=other), bars)


def room_lanes(scene: Scene, axis: Axis) -> Iterator[Lane]:
    """One low lane for each other machine of the room, a sign where it logged a fault; silence is a crossed gap."""
    for machine in dict.fromkeys(row["machine"] for row in scene.others_last):
        said = [row for row in scene.others_events if row["machine"] == machine and axis.holds(row["at_utc"])]
        moved = [row for row in scene.others_last if row["machine"] == machine and row["event"] in ("roll", "stop")]
        moved += [row for row in scene.others_events if row["machine"] == machine and row["event"] in ("roll", "stop")]
        states = [row for row in scene.others_states if row["machine"] == machine]
        motions = sorted(moved, key=lambda row: row["at_utc"])
        bars = [axis.bar(started, ended, fill) for started, ended, fill in _stretches(states, motions, axis)]
        faults = [row for row in said if row["event"] not in ("roll", "stop")]
        marks = [Mark(axis.x(row["at_utc"]), event_words(row), True) for row in faults]
        yield _lane("room", machine, "", bars, marks)


def _ticket_lane(scene: Scene, axis: Axis) -> Lane | None:
    marks = [
        Mark(axis.x(row[name]), words, name == "opened_at_utc")
        for row in scene.tickets
        for name, words in _ticket_words(row["ticket"]).items()
        if row[name] is not None and axis.holds(row[name])
    ]
    return _lane("row", say("tickets"), "", [], _place(marks, 2, axis)) if marks else None


def _ticket_words(ticket: str) -> dict[str, str]:
    return {
        "opened_at_utc": say("{ticket} opened", ticket=ticket),
        "restored_at_utc": say("{ticket} restored", ticket=ticket),
        "closed_at_utc": say("{ticket} closed", ticket=ticket),
    }


def _maintenance_lane(scene: Scene, axis: Axis) -> Lane | None:
    rows = axis.within(scene.maintenance)
    bars = [axis.bar(row["started_at_utc"], row["ended_at_utc"], "maintenance") for row in rows]
    marks = [Mark(axis.x(row["started_at_utc"]), str(row["machine"])) for row in rows]
    return _lane("row", say("maintenance"), say("booked"), bars, _place(marks, 2, axis)) if rows else None
