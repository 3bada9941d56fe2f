"""A run chart that the page's script can read out, point by point, in the words that the chart has for it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from pipeline.render.figures_svg import Figure, number_marks
from pipeline.render.language import say


@dataclass(frozen=True)
class Point:
    """What is read out at one place of the chart, and whether a mark is drawn there."""

    words: str
    is_drawn: bool = True


def drawn_points(points: Sequence[Point]) -> list[int]:
    """The numbers of the points that have a mark."""
    return [number for number, point in enumerate(points) if point.is_drawn]


def with_readout(figure: Figure, points: Sequence[Point], start: int) -> Figure:
    """The figure with its round marks numbered by point and the words of all points; ``start`` is read out first.

    The marks are drawn in the order of the points that have one. Where there are more or fewer of them than points, no
    mark is numbered, for it would be read out as another.
    """
    svg = number_marks(str(figure.svg), drawn_points(points))  # of a chart drawn with them they are numbered already
    data = {
        "points": [point.words for point in points],
        "start": start,
        "words": {"label": say("Look closer"), "slider": say("Month")},
    }
    readout = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return replace(figure, svg=Markup(svg), readout=readout)  # noqa: S704 - the chart's own, with numbers added
