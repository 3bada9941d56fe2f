"""The drawn clocks: what a picture holds is counted in its SVG, and the line is worked by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from pipeline.render.clock_charts import Stretch, clock_figure
from pipeline.render.figures_svg import STAND_INS
from pipeline.render.words import Local

START = datetime(2031, 3, 1)  # noqa: DTZ001 - naive UTC
LOCAL = Local(ZoneInfo("Europe/Stockholm"))
DAY = timedelta(days=1)
# 5 s at the last pair, nine days after the first, 10 ppm: 9 · 86,400 s · 1e-5 = 7.776 s gained on the way.
ONE = Stretch(
    1, START, START + 9 * DAY, 5.0, 10.0, 0.2, 10, True,
    tuple((START + k * DAY, -2.776 + 0.864 * k + (0.1 if k == 4 else 0.0)) for k in range(10)),
)  # fmt: skip


def test_the_line_goes_through_the_offset_at_the_last_pair() -> None:
    assert ONE.fitted(START + 9 * DAY) == 5.0
    assert ONE.fitted(START) == pytest.approx(5.0 - 7.776)


def test_what_is_left_over_is_what_the_line_misses() -> None:
    assert [round(value, 6) for _, value in ONE.left_over()] == [0, 0, 0, 0, 0.1, 0, 0, 0, 0, 0]


def test_every_pair_is_a_point_in_both_pictures_and_the_band_is_hatched() -> None:
    svg = clock_figure("T1", [ONE], LOCAL, "one").svg
    assert len(re.findall('<path transform="translate', svg)) == 2 * 10
    assert "url(#hatch-covered)" in svg
    assert not any(colour in svg for colour in STAND_INS.values())
    assert svg.count('stroke-dasharray="3,2"') == 4  # two edges of the band, above and below


def test_a_reset_is_a_long_dash_in_both_pictures_and_said() -> None:
    other = replace(ONE, number=2, first_at_utc=START + 12 * DAY, last_at_utc=START + 21 * DAY, is_corrected=False)
    figure = clock_figure("T1", [ONE, other], LOCAL, "one")
    assert figure.svg.count('stroke-dasharray="9,4"') == 2
    assert "the first pair after a reset" in figure.caption
    assert "corrected in segment 1" in figure.caption
    assert clock_figure("T1", [ONE], LOCAL, "one").svg.count('stroke-dasharray="9,4"') == 0


def test_the_sentence_says_the_figures() -> None:
    says = clock_figure("<T1>", [ONE], LOCAL, "one").says
    assert says == (
        "Clock of <T1>. Segment 1, 1 March 2031 to 10 March 2031: +5.00 s at the last of 10 pairs, ± 0.20 s, "
        "+10.0 ppm, corrected."
    )
    assert "<T1>" not in clock_figure("<T1>", [ONE], LOCAL, "one").svg


def test_a_clock_that_is_right_to_a_microsecond_does_not_fill_the_frame_with_it() -> None:
    right = replace(ONE, offset_s=0.0, drift_ppm=0.0, within_s=1e-6, pairs=((START, 0.0), (START + DAY, 0.0)))
    svg = clock_figure("T1", [right], LOCAL, "one").svg
    labels = [float(label.replace("−", "-")) for label in re.findall(r">(−?[0-9.]+)</text>", svg)]
    assert min(labels) <= -0.04  # of a scale from −0.05 to 0.05 s
    assert max(labels) >= 0.04


def test_thinned_points_are_said() -> None:
    assert "10 of 500 pairs, evenly thinned" in clock_figure("T1", [replace(ONE, pairs_count=500)], LOCAL, "x").caption


def test_the_same_clock_gives_the_same_bytes() -> None:
    assert clock_figure("T1", [ONE], LOCAL, "one").svg == clock_figure("T1", [ONE], LOCAL, "one").svg
