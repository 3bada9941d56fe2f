"""The paired strip small enough for a table's cell: two machines, whether air was covered, and the programme's way.

Above lies the machine that was on air, below its protect, each filled by its state; between them air's own state where
it was not covered, so that a loss and a missing cover show. The heavy line is the way of the programme; where it is on
neither machine there is none. It is drawn in whole steps of a few units, and a step shows the worst that touches it: a
loss too short for its place is drawn too long, never left out. Each thumbnail has its own scale of time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache

from markupsafe import Markup

from pipeline.render.incident_strip import CLOSE_PAD_S, scene_of
from pipeline.render.language import say
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.strip_lanes import GAP, Stretch, machine_stretches
from pipeline.render.strip_scene import Axis, Scene
from pipeline.render.table_words import state_word
from pipeline.render.words import duration

WIDTH, HEIGHT = 150, 26
MOST_BYTES = 700
ABOVE, BETWEEN, BELOW = (3, 6), (11, 4), (17, 6)  # upper edge and height of the bars
WAYS = {"above": 1, "below": 25}
WORST_LAST = ("stopped", "covered", "unproved", GAP, "exposed", "lost")
# Steps in SVG units, and letters of a machine's name: the first that keeps the whole below MOST_BYTES is taken.
FINENESS = ((1, 20), (2, 12), (5, 8), (15, 5), (30, 3))
Thumb = Callable[[Row | str], Markup]


@dataclass(frozen=True)
class Pair:
    """What is drawn: the scene of the incident's first channel, its time, and the machines above and below, if any."""

    scene: Scene
    axis: Axis
    above: str | None
    below: str | None


def thumb_drawer(reading: Reading) -> Thumb:
    """A function from an incident (its row, a row that names it, or its id) to its thumbnail, drawn once each.

    Empty for what is no incident of ``reading.shown``.
    """
    incidents = {row["incident"]: row for row in reading.incidents if row["incident"] in reading.shown}

    @cache
    def draw(name: str) -> Markup:
        row = incidents.get(name)
        return thumb(pair_of(reading, row, reading.shown[name])) if row else Markup("")

    return lambda incident: draw(incident if isinstance(incident, str) else incident["incident"])


def thumb(pair: Pair) -> Markup:
    """The thumbnail as finely as MOST_BYTES allow."""
    drawn = Markup("")
    for step, letters in FINENESS:
        drawn = draw_pair(pair, step, letters)
        if len(drawn.encode()) <= MOST_BYTES:
            break
    return drawn


def pair_of(reading: Reading, incident: Row, parts: Rows) -> Pair:
    """The pair of an incident: the machine it left above, the machine it went to, else the protect booked, below."""
    channel = parts[0]["channel"] if parts else incident["channel"]
    own = [part for part in parts if part["channel"] == channel]
    scene = scene_of(reading, incident, channel, own)
    started, ended = incident["started_at_utc"], incident["ended_at_utc"]
    pad = timedelta(seconds=max(CLOSE_PAD_S, 0.5 * (ended - started).total_seconds()))
    booked = {role: [name for name in scene.machines if scene.roles[name] == role] for role in ("air", "protect")}
    above = next((part["machine"] for part in own if part["machine"]), None) or next(iter(booked["air"]), None)
    taken = [part["to_machine"] for part in own if part["to_machine"] in scene.machines]
    others = [name for name in (*taken, *booked["protect"]) if name != above]
    return Pair(scene, Axis(started - pad, ended + pad), above, next(iter(others), None))


def draw_pair(pair: Pair, step: int, letters: int) -> Markup:
    """The thumbnail in steps of ``step`` units, with names of at most so many ``letters`` in its text."""
    lanes = {ABOVE: _machine(pair, pair.above), BETWEEN: _air(pair), BELOW: _machine(pair, pair.below)}
    bars: dict[str, str] = {}
    for (y, height), stretches in lanes.items():
        for fill, begin, end in _runs(_steps(stretches, pair.axis, step), step):
            bar = f"M{begin} {y + height // 2}H{end}" if fill == "stopped" else _bar(begin, end, y, height)
            bars[fill] = bars.get(fill, "") + bar
    fills = {fill: 'class="low"' if fill == "stopped" else f'fill="url(#hatch-{fill})"' for fill in bars}
    paths = "".join(f'<path {fills[fill]} d="{bars[fill]}"/>' for fill in WORST_LAST if fill in bars)
    way = _way(pair, step)
    heavy = f'<path class="halo" d="{way}"/><path class="way" d="{way}"/>' if way else ""
    head = Markup('<svg class="pair" role="img" aria-label="{}" viewBox="0 0 {} {}">')
    return head.format(pair_says(pair, letters), WIDTH, HEIGHT) + Markup(f"{paths}{heavy}</svg>")  # noqa: S704 - numbers


def _bar(begin: int, end: int, y: int, height: int) -> str:
    return f"M{begin} {y}H{end}v{height}H{begin}z"


def _machine(pair: Pair, machine: str | None) -> list[Stretch]:
    if machine is None:
        return []
    own = [row for row in pair.scene.not_known if row["machine"] == machine]
    silent: list[Stretch] = [(row["started_at_utc"], row["ended_at_utc"], GAP) for row in own]
    return machine_stretches(pair.scene, machine, pair.axis) + silent


def _air(pair: Pair) -> list[Stretch]:
    rows = pair.axis.within(pair.scene.spans)
    fills = [(row["started_at_utc"], row["ended_at_utc"], row["state"]) for row in rows if row["state"] != "covered"]
    return [(started, ended, GAP if state == "unknown" else state) for started, ended, state in fills]


def _steps(stretches: Iterable[Stretch], axis: Axis, step: int) -> list[str]:
    """The worst fill that touches each step; empty where nothing does."""
    steps = [""] * (WIDTH // step)
    for started, ended, fill in stretches:
        if ended <= axis.started or started >= axis.ended:
            continue
        first = int(_place(started, axis) // step)
        last = max(first + 1, -int(-_place(ended, axis) // step))
        for place in range(first, min(last, len(steps))):
            steps[place] = max(steps[place], fill, key=("", *WORST_LAST).index)
    return steps


def _place(at: datetime, axis: Axis) -> float:
    part = (at - axis.started) / (axis.ended - axis.started)
    return WIDTH * min(max(part, 0.0), 1.0)


def _runs(steps: list[str], step: int) -> Iterator[tuple[str, int, int]]:
    """(fill, begin, end) of each run of steps that are filled alike; what is empty is left out."""
    begin = 0
    for place in range(1, len(steps) + 1):
        if place == len(steps) or steps[place] != steps[begin]:
            if steps[begin]:
                yield steps[begin], begin * step, place * step
            begin = place


def _way(pair: Pair, step: int) -> str:
    """The programme's way: where the selector stands in the middle of each step; broken where on neither machine."""
    places = {pair.above: "above", pair.below: "below"}
    stays: list[Stretch] = [
        (row["started_at_utc"], row["ended_at_utc"], places[row["feed"]])
        for row in pair.axis.within(pair.scene.feeds)
        if row["feed"] in places
    ]
    width = (pair.axis.ended - pair.axis.started) * step / WIDTH
    middles = [pair.axis.started + width * (number + 0.5) for number in range(WIDTH // step)]
    steps = [next((side for begin, end, side in stays if begin <= at < end), "") for at in middles]
    way, reached = "", -1
    for side, begin, end in _runs(steps, step):
        way += f"V{WAYS[side]}H{end}" if begin == reached else f"M{begin} {WAYS[side]}H{end}"
        reached = end
    return way


def pair_says(pair: Pair, letters: int) -> str:
    """The thumbnail in words: which machine is where, how long air was in each state, and where the programme went."""
    told = [_lanes_say(pair, letters)]
    told += [say("{state} {time}", state=state, time=duration(time)) for state, time in _times(pair).items()]
    feeds = [row["feed"] for row in pair.axis.within(pair.scene.feeds)]
    if pair.below in feeds and pair.above in feeds:
        told.append(say("programme moves between them"))
    if any(feed not in (pair.above, pair.below) for feed in feeds):
        told.append(say("programme on neither for a time"))
    return "; ".join(told)


def _lanes_say(pair: Pair, letters: int) -> str:
    above, below = (name and _cut(name, letters) for name in (pair.above, pair.below))
    if above and below:
        return say("above {above}, below {below}", above=above, below=below)
    if above or below:
        return say("only {machine}, no other machine", machine=above or below)
    return say("no machine of this room")


def _cut(name: str, letters: int) -> str:
    return name if len(name) <= letters else f"{name[: letters - 1]}…"


def _times(pair: Pair) -> Mapping[str, float]:
    """Seconds of air in each state within the thumbnail's time, the states in the order of the key."""
    seconds: dict[str, float] = {}
    for row in pair.axis.within(pair.scene.spans):
        started, ended = max(row["started_at_utc"], pair.axis.started), min(row["ended_at_utc"], pair.axis.ended)
        seconds[row["state"]] = seconds.get(row["state"], 0.0) + (ended - started).total_seconds()
    order = ("covered", "unproved", "exposed", "lost", "unknown")
    return {state_word(state): seconds[state] for state in order if state in seconds}
