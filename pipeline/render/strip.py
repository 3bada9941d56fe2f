"""The paired strip: the machine on air and its protect one above the other, and between them whether air was covered.

A heavy line is the way of the programme through the machines; it moves where the selector was taken. What the logs do
not say is drawn as a crossed gap, never as calm. Drawn by hand and not by the chart library: there are hundreds.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from pipeline.render.strip_lanes import all_lanes, path_lanes, path_order, worded
from pipeline.render.strip_marks import Mark, place_marks
from pipeline.render.strip_scene import RIGHT, WIDE, Axis, Lane, Scene, Shape
from pipeline.render.words import Local

STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400)
PATH_Y = 8.0  # of the programme's line below a lane's upper edge


@dataclass(frozen=True)
class Strip:
    """A strip ready for its template. Positions are in SVG units.

    ``unlabelled`` counts the marks that should have words and had no room; those of the other machines have none.
    """

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    lanes: tuple[Lane, ...]
    paths: tuple[str, ...]
    ticks: tuple[tuple[float, str], ...]
    keys: tuple[Mark, ...]
    unlabelled: int
    is_narrow: bool = False


def draw_strip(scene: Scene, started: datetime, ended: datetime, local: Local, shape: Shape = WIDE) -> Strip:
    """The strip of ``scene`` from ``started`` to ``ended`` (naive UTC), labelled with the wall time of ``local``."""
    axis = Axis(started, ended, shape)
    named = [Mark(axis.x(at), label) for at, label in scene.keys if axis.holds(at)]
    keys = place_marks(named, levels=shape.levels, right=shape.width, left=shape.left)
    top = 18.0 + 13.0 * max((mark.level for mark in keys), default=-1)
    lanes = all_lanes(scene, axis, top + 8.0)
    bottom = lanes[-1].y + lanes[-1].height
    return Strip(
        width=shape.width,
        height=bottom + 26.0,
        left=shape.left,
        right=shape.width - RIGHT,
        top=top,
        bottom=bottom,
        lanes=lanes,
        paths=_paths(scene, axis, lanes),
        ticks=_ticks(axis, local),
        keys=tuple(keys),
        unlabelled=sum(mark.level < 0 for mark in [*keys, *(mark for lane in lanes for mark in worded(lane))]),
        is_narrow=shape.head > 0,
    )


def _paths(scene: Scene, axis: Axis, lanes: tuple[Lane, ...]) -> tuple[str, ...]:
    order = path_order(scene, axis)
    heights = {source: lane.y + PATH_Y for source, lane in zip(order, path_lanes(lanes), strict=True)}
    paths: list[str] = []
    last_end: datetime | None = None
    for feed in axis.within(scene.feeds):
        started, ended = axis.x(feed["started_at_utc"]), axis.x(feed["ended_at_utc"])
        y = heights.get(feed["feed"])
        if y is not None and paths and last_end == feed["started_at_utc"]:
            paths[-1] += f"L{started} {y}L{ended} {y}"
        elif y is not None:
            paths.append(f"M{started} {y}L{ended} {y}")
        last_end = feed["ended_at_utc"] if y is not None else None
    return tuple(paths)


def _ticks(axis: Axis, local: Local) -> tuple[tuple[float, str], ...]:
    span = (axis.ended - axis.started).total_seconds()
    step = next((step for step in STEPS if span / step <= axis.shape.most_ticks), STEPS[-1])
    midnight = axis.started.replace(hour=0, minute=0, second=0, microsecond=0)
    number = int((axis.started - midnight).total_seconds() // step) + 1
    ticks = []
    while (at := midnight + timedelta(seconds=number * step)) <= axis.ended:
        wall = local.wall(at)
        ticks.append((axis.x(at), f"{wall:%H:%M}" if step % 60 == 0 else f"{wall:%H:%M:%S}"))
        number += 1
    return tuple(ticks)
