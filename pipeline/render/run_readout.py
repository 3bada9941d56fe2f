"""A run chart that the page's script can read out, point by point, in the words that the chart has for it."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from pipeline.render.figures_svg import Figure
from pipeline.render.language import say

# A round mark as the chart library draws it: moved to its place, then two arcs.
MARK = re.compile(r'<path (?=transform="translate\([^"]*\)" d="M[\d.]+,0A)')


@dataclass(frozen=True)
class Point:
    """What is read out at one place of the chart, and whether a mark is drawn there."""

    words: str
    is_drawn: bool = True


def with_readout(figure: Figure, points: Sequence[Point], start: int) -> Figure:
    """The figure with its round marks numbered by point and the words of all points; ``start`` is read out first.

    The marks are drawn in the order of the points that have one. Where there are more or fewer of them than points, no
    mark is numbered, for it would be read out as another.
    """
    numbers = [number for number, point in enumerate(points) if point.is_drawn]
    svg = str(figure.svg)
    if len(MARK.findall(svg)) == len(numbers):
        left = iter(numbers)
        svg = MARK.sub(lambda found: f'{found.group()}data-point="{next(left)}" ', svg)
    data = {
        "points": [point.words for point in points],
        "start": start,
        "words": {"label": say("Look closer"), "slider": say("Month")},
    }
    readout = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return replace(figure, svg=Markup(svg), readout=readout)  # noqa: S704 - the chart's own, with numbers added
