"""A run chart's marks carry the number of their month, so that none is read out as another."""

from __future__ import annotations

import json

from markupsafe import Markup

from pipeline.render.figures_svg import Figure
from pipeline.render.run_readout import Point, with_readout

MARK = '<path transform="translate(10,{})" d="M3.32,0A3.32,3.32,0,1,1,-3.32,0" fill="#fff"/>'
LINE = '<path d="M0,0h5" transform="translate(1,2)"/>'


def chart(*marks: int) -> Figure:
    svg = f"<svg>{LINE}{''.join(MARK.format(mark) for mark in marks)}</svg>"
    return Figure(Markup(svg), "says", "caption")  # noqa: S704 - made up above


def test_a_month_without_a_mark_is_left_out_of_the_numbers() -> None:
    points = [Point("February"), Point("March: no air", is_drawn=False), Point("April <&>")]
    found = with_readout(chart(1, 2), points, start=2)
    assert 'data-point="0" transform="translate(10,1)"' in found.svg
    assert 'data-point="2" transform="translate(10,2)"' in found.svg
    assert 'data-point="1"' not in found.svg
    assert LINE in found.svg
    data = json.loads(found.readout)
    assert data["points"] == ["February", "March: no air", "April <&>"]
    assert data["start"] == 2


def test_marks_that_do_not_fit_the_points_are_not_numbered() -> None:
    found = with_readout(chart(1, 2, 3), [Point("February")], start=0)
    assert "data-point" not in found.svg
    assert found.readout
