"""One machine's clock over time: the pairs it was judged by, the line laid through them, and what the line leaves.

Bounded whatever the room is: the page draws few machines, and of each machine few of its pairs, evenly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, cast

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, INK, PAPER, STAND_INS, Chart, Figure, drawn, styled
from pipeline.render.language import Language, say, spoken_language, whole
from pipeline.render.page_words import ppm, seconds
from pipeline.render.words import Local, counted, duration, listed

WIDTH = 560
NARROWEST_S = 0.1  # between the ends of a scale
UPPER, LOWER = "upper scale", "lower scale"
Rows = Sequence[dict[str, Any]]


@dataclass(frozen=True)
class Stretch:
    """One segment with pairs: its figures, the naive UTC house times of its first and last pair, and some of its pairs.

    ``pairs`` are (house time, machine minus house in s); ``offset_s`` holds at ``last_at_utc``.
    """

    number: int
    first_at_utc: datetime
    last_at_utc: datetime
    offset_s: float
    drift_ppm: float
    within_s: float
    pairs_count: int
    is_corrected: bool
    pairs: tuple[tuple[datetime, float], ...]

    def fitted(self, at_utc: datetime) -> float:
        """The line at a house time, machine minus house in s."""
        return self.offset_s + self.drift_ppm * 1e-6 * (at_utc - self.last_at_utc).total_seconds()

    def left_over(self) -> list[tuple[datetime, float]]:
        """House time and residual in s of each pair."""
        return [(at, offset - self.fitted(at)) for at, offset in self.pairs]


def clock_figure(machine: str, stretches: Sequence[Stretch], local: Local, name: str) -> Figure:
    """The clock of a machine above, its residuals below; ``name`` keeps the chart's ids apart on the page."""
    lines = [row for stretch in stretches for row in _ends(stretch, local)]
    points = [_point(stretch, local, at, value) for stretch in stretches for at, value in stretch.pairs]
    left_over = [_point(stretch, local, at, value) for stretch in stretches for at, value in stretch.left_over()]
    resets = [{"at": _wall(local, stretch.first_at_utc)} for stretch in stretches[1:]]
    flat = [{**row, "low": -row["within"], "high": row["within"], "line": 0.0} for row in lines]
    domains = {UPPER: _domain(lines, points), LOWER: _domain(flat, left_over)}
    datasets = {"lines": lines, "points": points, "flat": flat, "left over": left_over, "resets": resets}
    says = "; ".join(_says(stretch, local) for stretch in stretches)
    pairs = _how_many(sum(len(each.pairs) for each in stretches), sum(each.pairs_count for each in stretches))
    caption = say(
        "{machine}, {state}: above, machine minus house at {pairs}, the fitted line and, grey between dashed lines, "
        "its ±. Below, what the line leaves, on a scale of its own.",
        machine=machine,
        state=_state(stretches),
        pairs=pairs,
    )
    if resets:
        more = say("Long dashes: the first pair after a reset; circles and diamonds take turns by segment.")
        caption = f"{caption} {more}"
    chart = Chart(_drawing, (domains, datasets))
    return drawn(chart, name, say("Clock of {machine}. {says}.", machine=machine, says=says), caption)


def _drawing(domains: Mapping[str, tuple[float, float]], datasets: Mapping[str, Rows]) -> dict[str, Any]:
    return {**_filled(_described(spoken_language()), domains), "datasets": datasets}


@dataclass(frozen=True)
class _Look:
    """A panel's title and height, the names of the rows of its lines and its points, and what its scale goes by."""

    title: str
    height: int
    rows: tuple[str, str]
    domain: str
    is_flat: bool


@cache
def _described(_: Language) -> dict[str, Any]:
    """The picture of any clock, with its rows and the ends of its scales still to come: one for all machines.

    The chart library takes longer to put a chart together than to draw it.
    """
    upper = _panel(_Look(say("machine minus house, s"), 130, ("lines", "points"), UPPER, is_flat=False))
    lower = _panel(_Look(say("left over, s"), 84, ("flat", "left over"), LOWER, is_flat=True))
    described: dict[str, Any] = styled(alt.vconcat(upper, lower, spacing=10)).to_dict(validate=False)
    return described


def _filled(described: Any, domains: Mapping[str, tuple[float, float]]) -> Any:
    """A copy of a description with the ends of its scales in their places."""
    if isinstance(described, dict):
        return {
            key: list(domains[value[0]]) if value in ([UPPER], [LOWER]) else _filled(value, domains)
            for key, value in described.items()
        }
    return [_filled(value, domains) for value in described] if isinstance(described, list) else described


def _panel(look: _Look) -> alt.LayerChart:
    x = alt.X("at:T", title=None, scale=alt.Scale(type="utc"), axis=_days(is_labelled=look.is_flat))
    lines, points = (alt.NamedData(name=rows) for rows in look.rows)
    scale = alt.Scale(domain=[look.domain], zero=False, nice=True)
    axis = alt.Axis(tickCount=4, format=",.3~f", minExtent=46)
    y = alt.Y("line:Q", title=look.title, scale=scale, axis=axis)
    base = alt.Chart(lines, width=WIDTH, height=look.height).encode(x=x, detail="segment:N")
    band = base.mark_area(color=STAND_INS["covered"]).encode(
        y=alt.Y("low:Q", scale=scale, title=look.title), y2="high:Q"
    )
    edges = [
        base.mark_line(stroke=INK, strokeWidth=0.7, strokeDash=[3, 2]).encode(y=alt.Y(f"{edge}:Q", scale=scale))
        for edge in ("low", "high")
    ]
    line = base.mark_line(stroke=INK, strokeWidth=1.2).encode(y=y)
    shapes = alt.Scale(domain=["odd", "even"], range=["circle", "diamond"])
    dots = alt.Chart(points).mark_point(stroke=INK, size=14, strokeWidth=0.7, fill=PAPER, opacity=1)
    dots = dots.encode(x=x, y=alt.Y("s:Q", scale=scale), shape=alt.Shape("turn:N", scale=shapes, legend=None))
    rules = (
        alt.Chart(alt.NamedData(name="resets")).mark_rule(stroke=FAINT, strokeDash=[9, 4], strokeWidth=1.4).encode(x=x)
    )
    return cast(alt.LayerChart, alt.layer(band, *edges, rules, dots, line))


def _domain(lines: Rows, points: Rows) -> tuple[float, float]:
    """From the least to the largest value, and never so narrow that thousandths of a second fill the frame."""
    values = [row[edge] for row in lines for edge in ("low", "high")] + [row["s"] for row in points]
    low, high = min(values), max(values)
    short = max(0.0, NARROWEST_S - (high - low)) / 2
    return low - short, high + short


def _days(*, is_labelled: bool) -> alt.Axis:
    if is_labelled:
        return alt.Axis(format="%-d %b %Y", tickCount=5, labelOverlap=True, labelFlush=True)
    return alt.Axis(labels=False, ticks=False, tickCount=5)


def _ends(stretch: Stretch, local: Local) -> list[dict[str, Any]]:
    """Both ends of the fitted line and of its band."""
    ends = []
    for at in dict.fromkeys((stretch.first_at_utc, stretch.last_at_utc)):
        line, within = stretch.fitted(at), stretch.within_s
        row = {"at": _wall(local, at), "line": line, "low": line - within, "high": line + within, "within": within}
        ends.append({**row, "segment": stretch.number})
    return ends


def _point(stretch: Stretch, local: Local, at: datetime, value: float) -> dict[str, Any]:
    return {"at": _wall(local, at), "s": round(value, 6), "turn": "odd" if stretch.number % 2 else "even"}


def _wall(local: Local, at_utc: datetime) -> int:
    """Local wall time as if it were UTC, in ms, for the chart library knows no zones."""
    wall = local.wall(at_utc).replace(tzinfo=None)
    return round((wall - datetime(1970, 1, 1)).total_seconds() * 1000)  # noqa: DTZ001 - wall time


def _how_many(shown: int, known: int) -> str:
    if shown == known:
        return say("each of {pairs}", pairs=counted(known, "pair"))
    return say("{shown} of {known} pairs, evenly thinned", shown=shown, known=whole(known))


def _state(stretches: Sequence[Stretch]) -> str:
    corrected = [str(stretch.number) for stretch in stretches if stretch.is_corrected]
    if not corrected or len(corrected) == len(stretches):
        return say("corrected") if corrected else say("left as written")
    if len(corrected) == 1:
        return say("corrected in segment {number}", number=corrected[0])
    return say("corrected in segments {numbers}", numbers=listed(corrected))


def _says(stretch: Stretch, local: Local) -> str:
    return say(
        "Segment {number}, {first} to {last}: {offset} at the last of {pairs}, ± {within}, {drift}, {done}",
        number=stretch.number,
        first=local.date(stretch.first_at_utc),
        last=local.date(stretch.last_at_utc),
        offset=seconds(stretch.offset_s),
        pairs=counted(stretch.pairs_count, "pair"),
        within=duration(stretch.within_s),
        drift=ppm(stretch.drift_ppm),
        done=say("corrected") if stretch.is_corrected else say("left"),
    )
