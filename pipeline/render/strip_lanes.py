"""The lanes of a strip, each from its rows: sources, machines, air, the pair's offset, tickets and maintenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import pairwise

from pipeline.render.reading import Rows
from pipeline.render.strip_marks import Mark, place_marks
from pipeline.render.strip_scene import Axis, Bar, Lane, Scene, event_words

HEIGHTS = {"source": 34.0, "machine": 58.0, "air": 34.0, "offset": 46.0, "row": 36.0, "step": 36.0, "room": 18.0}
SOURCES = {"other": ("another source", "not of this room"), "standby": ("standby", "slate or black")}
ROLES = {"air": "booked for air", "protect": "booked as protect"}
# A machine's state → hatch; what is neither proved good nor not good is not known.
FILLS = {"good": "covered", "not good": "lost"}
GAP = "not-known"
# Said often and meaning little on a strip; offsets have their own lane.
QUIET = frozenset({"alive", "hours", "clock", "offset"})
Stretch = tuple[datetime, datetime, str]


def all_lanes(scene: Scene, axis: Axis, top: float) -> tuple[Lane, ...]:
    """Every lane the window needs, from ``top`` down: the first machine, air, then the other machines."""
    used = {row["feed"] for row in axis.within(scene.feeds)}
    drafts: list[Lane | None] = [_source_lane(source) for source in SOURCES if source in used]
    machines: list[Lane | None] = [_machine_lane(scene, axis, machine) for machine in scene.machines]
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


def _lane(kind: str, name: str, note: str, bars: Sequence[Bar | None], marks: list[Mark], right: float = 0.0) -> Lane:
    kept = tuple(bar for bar in bars if bar is not None)
    return Lane(kind, name, note, 0.0, HEIGHTS[kind], kept, tuple(place_marks(marks, 2, right)))


def _source_lane(source: str) -> Lane:
    return _lane("source", *SOURCES[source], [], [])


def _machine_lane(scene: Scene, axis: Axis, machine: str) -> Lane:
    own = [row for row in scene.not_known if row["machine"] == machine]
    unknown: list[Stretch] = [(row["started_at_utc"], row["ended_at_utc"], GAP) for row in own]
    stretches = machine_stretches(scene, machine, axis) + unknown
    bars = [axis.bar(started, ended, fill) for started, ended, fill in stretches]
    marks = [
        Mark(axis.x(row["at_utc"]), event_words(row), row["event"] in ("alarm", "clear"))
        for row in scene.events
        if row["machine"] == machine and row["event"] not in QUIET and axis.holds(row["at_utc"])
    ]
    note = ROLES.get(scene.roles.get(machine, ""), "not booked here")
    return _lane("machine", machine, note, bars, marks, axis.shape.width)


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
    return _lane("air", f"air, channel {scene.channel}", "covered?", bars, [])


def _offset_lane(scene: Scene, axis: Axis) -> Lane | None:
    reach, middle = 3 * scene.tolerance_s or 1.0, HEIGHTS["offset"] / 2
    dots = tuple(
        (axis.x(row["at_utc"]), middle - 18 * max(-1.0, min(1.0, row["offset_s"] / reach)), bool(row["is_within"]))
        for row in scene.offsets
        if axis.holds(row["at_utc"])
    )
    note = f"grey: within ± {scene.tolerance_s * 1000:.0f} ms"
    return Lane("offset", "offset of the pair", note, 0.0, HEIGHTS["offset"], dots=dots) if dots else None


def step_lanes(scene: Scene, axis: Axis) -> Iterator[Lane]:
    """One lane a pair that was rolling and locked together: in step, out of step, or not yet proved; else empty."""
    names = {True: "covered", False: "exposed", None: "unproved"}
    pairs = dict.fromkeys((row["machine_a"], row["machine_b"]) for row in scene.pair_states)
    for one, other in pairs:
        own = [row for row in scene.pair_states if (row["machine_a"], row["machine_b"]) == (one, other)]
        bars = [axis.bar(row["started_at_utc"], row["ended_at_utc"], names[row["is_in_step"]]) for row in own]
        if any(bars):
            yield _lane("step", "in step?", f"{one} with {other}", bars, [])


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
    moments = (("opened_at_utc", "opened"), ("restored_at_utc", "restored"), ("closed_at_utc", "closed"))
    marks = [
        Mark(axis.x(row[name]), f"{row['ticket']} {word}", name == "opened_at_utc")
        for row in scene.tickets
        for name, word in moments
        if row[name] is not None and axis.holds(row[name])
    ]
    return _lane("row", "tickets", "", [], marks, axis.shape.width) if marks else None


def _maintenance_lane(scene: Scene, axis: Axis) -> Lane | None:
    rows = axis.within(scene.maintenance)
    bars = [axis.bar(row["started_at_utc"], row["ended_at_utc"], "maintenance") for row in rows]
    marks = [Mark(axis.x(row["started_at_utc"]), str(row["machine"])) for row in rows]
    return _lane("row", "maintenance", "booked", bars, marks, axis.shape.width) if rows else None
