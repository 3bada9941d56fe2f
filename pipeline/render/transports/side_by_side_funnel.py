"""The funnel: every transport's rate against its hours, between the limits that luck alone would keep. No ranking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, INK, PAPER, Chart, Figure, drawn, styled
from pipeline.render.language import say, whole
from pipeline.render.words import counted, figure, listed, percent
from pipeline.statistics import funnel_limits

WIDTH, HEIGHT = 560, 320
STEPS = 80
MOST_LABELS = 30
LETTER, LINE, NEAR = 6.4, 12.0, 9.0  # points: a letter's width, a line's height, from a mark to its label
PER_H = 1000.0
LONGEST = 16
Point = dict[str, Any]
Box = tuple[float, float, float, float]


def rate_funnel(measure: Mapping[str, Any], level: float, name: str) -> Figure | None:
    """Rates per 1,000 h over exposure hours, with exact limits about the room's rate at 95 % and adjusted for the
    number of machines; None where the room has no event or fewer than two machines. Bounded: labels on 30 at most."""
    room, machines = measure["room"], [row for row in measure["machines"] if row["exposure_h"] > 0]
    if not room["count"] or len(machines) < 2:
        return None
    confidences = {"inner": 1 - level, "outer": 1 - level / len(machines)}
    points = [_point(row, room["value"], confidences) for row in machines]
    across = 1.06 * max(point["h"] for point in points)
    curves = _curves(room["value"], across, confidences)
    up = _top(points, curves)
    labelled = place_labels(_labelled(points), across, up)
    chart = Chart(_drawing, (points, curves, labelled, room["value"], (across, up)))
    return drawn(chart, name, _says(points, room, confidences), _caption(confidences, len(points), len(labelled)))


def _drawing(
    points: Sequence[Point], curves: Sequence[Point], labelled: Sequence[Point], mean: float, ends: tuple[float, float]
) -> alt.TopLevelMixin:
    layers = [*_limits(curves, *ends), _mean(mean, ends[0]), *_marks(points, labelled, *ends)]
    return styled(alt.layer(*layers).properties(width=WIDTH, height=HEIGHT))


def _point(row: Mapping[str, Any], mean: float, confidences: Mapping[str, float]) -> Point:
    outside = ""
    for name, confidence in confidences.items():
        low, high = funnel_limits(mean / PER_H, [row["exposure_h"]], confidence)
        if not low[0] * PER_H <= row["value"] <= high[0] * PER_H:
            outside = name
    return {"machine": row["machine"], "h": row["exposure_h"], "value": row["value"], "outside": outside}


def _curves(mean: float, across: float, confidences: Mapping[str, float]) -> list[Point]:
    # Closer together at few hours, where the limits bend.
    hours = across * (np.arange(1, STEPS + 1) / STEPS) ** 2
    rows: list[Point] = []
    for name, confidence in confidences.items():
        low, high = funnel_limits(mean / PER_H, hours, confidence)
        for side, values in (("low", low), ("high", high)):
            rows.extend(
                {"h": float(at), "value": float(value) * PER_H, "line": f"{name} {side}", "limit": name}
                for at, value in zip(hours, values, strict=True)
            )
    return rows


def _top(points: Sequence[Point], curves: Sequence[Point]) -> float:
    """High enough for every point, and for the limits at the fewest hours that a machine has; not for a single hour."""
    fewest = min(point["h"] for point in points)
    limit = min((row["value"] for row in curves if row["line"] == "outer high" and row["h"] <= fewest), default=0.0)
    most = max(point["value"] for point in points)
    return float(1.08 * max(most, min(limit, 2.5 * most)))


def _labelled(points: Sequence[Point]) -> list[Point]:
    """Those that get their name: all, or, of many, those outside the limits and then those with most hours."""
    order = sorted(points, key=lambda point: (not point["outside"], -point["h"], point["machine"]))
    return order[:MOST_LABELS]


def place_labels(points: Sequence[Point], across: float, up: float) -> list[Point]:
    """Names beside their marks, each where it lies on no earlier name or mark; one that finds no room is left out."""
    marks = [(point["h"] / across * WIDTH, point["value"] / up * HEIGHT) for point in points]
    taken: list[Box] = [(x - 4, y - 4, x + 4, y + 4) for x, y in marks]
    placed = []
    for point, (x, y) in zip(points, marks, strict=True):
        text = point["machine"] if len(point["machine"]) <= LONGEST else f"{point['machine'][: LONGEST - 1]}…"
        half = LETTER * len(text) / 2
        for middle in ((x + NEAR + half, y), (x - NEAR - half, y), (x, y + LINE), (x, y - LINE)):
            box = (middle[0] - half, middle[1] - LINE / 2, middle[0] + half, middle[1] + LINE / 2)
            if _is_free(box, taken):
                taken.append(box)
                placed.append({"h": middle[0] / WIDTH * across, "value": middle[1] / HEIGHT * up, "text": text})
                break
    return placed


def _is_free(box: Box, taken: Sequence[Box]) -> bool:
    if box[0] < 0 or box[2] > WIDTH + 12 or box[1] < 0 or box[3] > HEIGHT:
        return False
    return all(box[2] <= other[0] or box[0] >= other[2] or box[3] <= other[1] or box[1] >= other[3] for other in taken)


def _axes(across: float, up: float) -> tuple[alt.X, alt.Y]:
    across_scale, up_scale = (alt.Scale(domain=[0, end], nice=False) for end in (across, up))
    axis, rates = alt.Axis(tickCount=6), say("protect switches away from it per 1,000 air h")
    x = alt.X("h:Q", title=say("hours on air"), scale=across_scale, axis=axis)
    return x, alt.Y("value:Q", title=rates, scale=up_scale, axis=axis)


def _data(rows: Sequence[Point]) -> alt.InlineData:
    return alt.InlineData(values=[dict(row) for row in rows])


def _limits(curves: Sequence[Point], across: float, up: float) -> list[alt.Chart]:
    x, y = _axes(across, up)
    dashes = {"inner": [1, 0], "outer": [6, 3]}
    return [
        alt.Chart(_data([row for row in curves if row["limit"] == name]))
        .mark_line(stroke=INK, strokeWidth=0.9, strokeDash=dash, clip=True)
        .encode(x=x, y=y, detail="line:N")
        for name, dash in dashes.items()
    ]


def _mean(mean: float, across: float) -> alt.Chart:
    rows = [{"h": at, "value": mean} for at in (0.0, across)]
    line: alt.Chart = alt.Chart(_data(rows)).mark_line(stroke=FAINT, strokeWidth=1.2).encode(x="h:Q", y="value:Q")
    return line


def _marks(points: Sequence[Point], labelled: Sequence[Point], across: float, up: float) -> list[alt.Chart]:
    x, y = _axes(across, up)
    dots = alt.Chart(_data(points)).mark_point(stroke=INK, fill=PAPER, size=46, strokeWidth=1.2, opacity=1)
    names = alt.Chart(_data(labelled)).mark_text(color=INK, fontSize=12, align="center", baseline="middle")
    return [dots.encode(x=x, y=y), names.encode(x=x, y=y, text="text:N")]


def _says(points: Sequence[Point], room: Mapping[str, Any], confidences: Mapping[str, float]) -> str:
    shown = sorted(points, key=lambda point: (not point["outside"], -point["h"]))[:MOST_LABELS]
    each = "; ".join(f"{point['machine']}: {figure(point['h'])} h, {figure(point['value'])}" for point in shown)
    if len(points) > len(shown):
        each = say("{machines}; and {left_out} more", machines=each, left_out=whole(len(points) - len(shown)))
    what = say(
        "Funnel of {transports}: hours on air across, protect switches per 1,000 air h up. The room: {rate}.",
        transports=counted(len(points), "transport"),
        rate=figure(room["value"]),
    )
    return f"{what} {outside_words(points, confidences)} {each}."


def outside_words(points: Sequence[Point], confidences: Mapping[str, float]) -> str:
    """Which points lie outside the limits, in a sentence."""
    beyond = [point["machine"] for point in points if point["outside"] == "outer"]
    between = [point["machine"] for point in points if point["outside"] == "inner"]
    if not beyond and not between:
        return say("All lie within the {percent} limits.", percent=percent(confidences["inner"]))
    none = say("none", about="transports")
    outside = say("Outside the wider limits: {machines}.", machines=listed(beyond) or none)
    return f"{outside} {say('Between the limits: {machines}.', machines=listed(between) or none)}"


def _caption(confidences: Mapping[str, float], count: int, labels: int) -> str:
    told = say(
        "Each transport by its hours on air. Level line: the room's rate. Full lines: the exact {percent} limits that "
        "luck alone keeps about it at those hours; broken lines: those that keep all {count} transports together in "
        "{percent} of such rooms. A transport within the lines may be better or worse than the room; these hours "
        "cannot show it.",
        percent=percent(confidences["inner"]),
        count=whole(count),
    )
    named = say("Named are {labels} of {count}.", labels=whole(labels), count=whole(count))
    return f"{told} {named}" if labels < count else told
