"""The chart of a kind's lives: how many are still good after so many head hours, as seen and as fitted."""

from __future__ import annotations

import math
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.charts import WIDTH
from pipeline.render.figures_svg import FAINT, INK, Chart, Figure, drawn, styled
from pipeline.render.language import say
from pipeline.render.reading import Row
from pipeline.render.transports.parts_numbers import kind_word
from pipeline.render.words import counted, figure, percent

POINTS = 80


def life_chart(kind: Row, name: str) -> Figure:
    """The Kaplan-Meier steps of one kind, its failures counted and all else cut short, and its Weibull life dashed."""
    longest = kind["failure_h"]["longest"]
    told = say("Lives of the {kind}. {says}", kind=kind_word(kind["kind"]), says=says(kind))
    fitted = fitted_curve(kind, longest) if kind["weibull"] else []
    return drawn(Chart(_drawing, (kind["steps"], fitted, longest)), name, told, _caption(kind))


def _drawing(steps: list[Row], fitted: list[Row], longest: float) -> alt.TopLevelMixin:
    rows = [{"life_h": 0.0, "survival": 1.0}, *steps]
    rows.append({"life_h": longest, "survival": rows[-1]["survival"]})
    x = alt.X("life_h:Q", title=say("head hours since fitting"), scale=alt.Scale(domain=[0, longest], nice=False))
    y = alt.Y("survival:Q", title=say("share not failed"), scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%"))
    seen = _line(rows).mark_line(stroke=INK, strokeWidth=1.5, interpolate="step-after").encode(x=x, y=y)
    layers: list[alt.Chart] = [seen]
    if fitted:
        layers.append(_line(fitted).mark_line(stroke=FAINT, strokeWidth=1.4, strokeDash=[5, 3]).encode(x=x, y=y))
    return styled(alt.layer(*layers).properties(width=WIDTH, height=150))


def _line(rows: list[dict[str, float]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=[dict(row) for row in rows]))


def fitted_curve(kind: Row, longest: float) -> list[dict[str, Any]]:
    """Points of exp(-(t / scale)^shape) from 0 to the longest life."""
    shape, scale = kind["weibull"]["shape"]["value"], kind["weibull"]["scale_h"]["value"]
    times = [longest * place / POINTS for place in range(POINTS + 1)]
    return [{"life_h": time, "survival": math.exp(-((time / scale) ** shape))} for time in times]


def says(kind: Row) -> str:
    """What the chart says, in words."""
    last = kind["steps"][-1]
    text = say(
        "{failures} among {lives}; after the last failure, at {hours} h, {share} had not failed.",
        failures=counted(kind["failed_count"], "failure"),
        lives=counted(kind["n"], "life", "lives"),
        hours=figure(last["life_h"]),
        share=percent(last["survival"]),
    )
    if not kind["weibull"]:
        return text
    shape = say("The Weibull life has shape {shape}.", shape=figure(kind["weibull"]["shape"]["value"]))
    return f"{text} {shape}"


def _caption(kind: Row) -> str:
    values = {"kind": kind_word(kind["kind"]), "says": says(kind)}
    if kind["weibull"]:
        return say(
            "The {kind}: share not yet failed by head hours since fitting (Kaplan–Meier), parts taken out or still in "
            "use counted for as long as they were watched; dashed: the Weibull life fitted to them. {says}",
            **values,
        )
    return say(
        "The {kind}: share not yet failed by head hours since fitting (Kaplan–Meier), parts taken out or still in use "
        "counted for as long as they were watched. {says}",
        **values,
    )
