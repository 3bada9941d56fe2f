"""From a chart's description to the SVG that stands in a page: no script, no address, the page's own type and hatching.

Patterns come before colour: each state of air time has one hatch on every page, so that a picture survives a black and
white printer. The chart library knows no hatches, so it draws flat stand-in greys, and these are exchanged here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.render.palette import CHART_PX_PER_REM, CHART_ROOM_PX, FAINT, GRID, INK, PAPER
from pipeline.render.pieces import piece_key, pieces_in_reach

if TYPE_CHECKING:
    import altair as alt

__all__ = ["FAINT", "GRID", "INK", "PAPER", "STAND_INS", "Chart", "Figure", "drawn", "number_marks", "styled"]
# State of air → stand-in colour; the hatch of the same name is defined once on every page (templates/hatches.svg.j2).
STAND_INS = {
    "covered": "#010203",
    "unproved": "#010204",
    "exposed": "#010205",
    "lost": "#010206",
    "not known": "#010207",
    "plain": "#010208",
}
HATCH_OF = {colour: f"hatch-{state.replace(' ', '-')}" for state, colour in STAND_INS.items()}
NOISE = re.compile(
    r' (?:xmlns(?::xlink)?|version|class|role|aria-[a-z]+|font-family|pointer-events)="[^"]*"| opacity="1"'
    r'|<path class="(?:background|foreground)"[^>]*d=""[^>]*/>'
)
ATTRIBUTE = re.compile(r'(?<==)"[^"]*"')
LONG_NUMBER = re.compile(r"-?\d+\.\d{3,}")
EMPTY = re.compile(r'<path[^>]* d=""[^>]*/>|<path[^>]* d="M0,0h0v0h0Z"[^>]*/>')
SIZE = re.compile(r'<svg width="([\d.]+)" height="([\d.]+)" viewBox="([^"]+)">')
CLIP = re.compile(r"\bclip\d+")
# A round mark as the chart library draws it: moved to its place, then two arcs.
MARK = re.compile(r'<path (?=transform="translate\([^"]*\)" d="M[\d.]+,0A)')


@dataclass(frozen=True)
class Figure:
    """A drawn chart: its SVG, what it says in words (the text alternative), its caption, and data of the page's script.

    ``readout`` is empty for a chart that is not read out point by point.
    """

    svg: Markup
    says: str
    caption: str
    readout: str = ""


@dataclass(frozen=True)
class Chart:
    """A chart to be drawn: ``draw`` makes its description of ``given`` and the language alone, as a chart or as a dict.

    So the same chart need not be drawn by every run. ``marks`` are the numbers of the points that have a round mark.
    """

    draw: Callable[..., alt.TopLevelMixin | dict[str, Any]]
    given: tuple[object, ...]
    marks: Sequence[int] = ()


def drawn(chart: Chart, name: str, says: str, caption: str) -> Figure:
    """The chart as SVG, byte for byte the same for the same chart; ``name`` keeps its ids apart on the page."""
    pieces = pieces_in_reach()
    draw = f"{chart.draw.__module__}.{chart.draw.__qualname__}"
    key = piece_key(draw, chart.given, list(chart.marks), name, says)
    svg = pieces.text(key) if pieces else None
    if svg is None:
        svg = _svg(chart, name, says)
        if pieces and key:
            pieces.made(key, svg)
    return Figure(Markup(svg), says, caption)  # noqa: S704 - the library has escaped every text in it


def _svg(chart: Chart, name: str, says: str) -> str:
    import vl_convert  # noqa: PLC0415 - where every chart stands already nothing is drawn

    made = chart.draw(*chart.given)
    # Not held against the library's schema: the charts are ours and tested, and checking takes as long as drawing.
    raw = vl_convert.vegalite_to_svg(made if isinstance(made, dict) else made.to_dict(validate=False))
    svg = ATTRIBUTE.sub(lambda found: LONG_NUMBER.sub(_hundredths, found.group()), EMPTY.sub("", NOISE.sub("", raw)))
    for colour, hatch in HATCH_OF.items():
        svg = svg.replace(f'"{colour}"', f'"url(#{hatch})"')
    ids = {found: f"{name}-{number}" for number, found in enumerate(dict.fromkeys(CLIP.findall(svg)))}
    svg = CLIP.sub(lambda found: ids[found.group()], svg)
    # A label by attribute, so that a reader of the page hears the sentence and not the marks.
    label = Markup('<svg role="img" aria-label="{}" class="chart" viewBox="{}" width="{:.2f}rem">')
    svg = SIZE.sub(lambda size: str(label.format(says, size[3], float(size[1]) / CHART_PX_PER_REM)), svg, count=1)
    return number_marks(svg, chart.marks)


def number_marks(svg: str, numbers: Sequence[int]) -> str:
    """The picture with its round marks numbered; untouched where there are more or fewer of them than ``numbers``."""
    if len(MARK.findall(svg)) != len(numbers):
        return svg
    left = iter(numbers)
    return MARK.sub(lambda found: f'{found.group()}data-point="{next(left)}" ', svg)


def _hundredths(number: re.Match[str]) -> str:
    """A position to a hundredth of a point, the same on every machine."""
    return f"{float(number.group()):.2f}".rstrip("0").rstrip(".")


def styled(chart: alt.TopLevelMixin) -> alt.TopLevelMixin:
    """The chart in the pages' manner: thin ink lines, a faint grid, nothing that needs colour."""
    dressed: alt.TopLevelMixin = (
        chart.configure(aria=False, background="transparent", padding={"left": 22, "right": 12, "top": 4, "bottom": 4})
        .configure_view(stroke=None)
        .configure_axis(
            domainColor=INK, tickColor=INK, gridColor=GRID, labelColor=INK, titleColor=INK, labelFontSize=CHART_ROOM_PX,
            titleFontSize=CHART_ROOM_PX, titleFontWeight="normal", titleFontStyle="italic", labelLimit=150,
            gridDash=[1, 2],
        )
        .configure_legend(
            orient="bottom", labelFontSize=CHART_ROOM_PX, titleFontSize=CHART_ROOM_PX, symbolType="square",
            symbolSize=160, labelLimit=220,
            symbolStrokeWidth=0.7, symbolStrokeColor=INK, columnPadding=14, title=None,
        )
            )  # fmt: skip
    return dressed
