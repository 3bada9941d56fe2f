"""The page on the clocks: reasons, bounds, and figures with and without the correction."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.render.clock_charts import Stretch
from pipeline.render.clock_queries import CLOCK_PAIRS, MACHINES_AT_MOST, POINTS_AT_MOST
from pipeline.render.clocks_page import CHART_BYTES, clocks_sheet, draw, effects, why
from pipeline.render.filling import fill, page_environment
from pipeline.render.reading import Reading
from pipeline.render.words import Local
from pipeline.store import Store
from tests.render.conftest import Rendered

START = datetime(2031, 3, 1)  # noqa: DTZ001 - naive UTC


@pytest.mark.parametrize(
    ("pairs", "is_corrected", "words"),
    [
        (9, True, "corrected"),
        (0, False, "left: no pair, nothing is known"),
        (1, False, "left: 1 pair, 5 are needed"),
        (4, False, "left: 4 pairs, 5 are needed"),
        (5, False, "left: inside its ±"),
    ],
)
def test_every_segment_says_why(pairs: int, is_corrected: bool, words: str) -> None:
    assert why({"pairs": pairs, "is_corrected": is_corrected}) == words


def moved(scope: str, figure: str, with_it: float, without: float) -> dict[str, Any]:
    return {
        "scope": scope, "name": "2031-03" if scope == "month" else "", "figure": figure, "with_correction": with_it,
        "without_correction": without, "moved": with_it - without,
    }  # fmt: skip


def test_what_moved_is_signed_and_bounded() -> None:
    rows = [moved("total", "lost_s", 12.5, 10.0), moved("total", "forced", 2, 3), moved("total", "air_s", 60, 60)]
    rows += [moved("month", "lost_s", 12.5, 10.0)] * 300
    shown = effects({"machines": ["T1"], "compared_count": 900, "moved_count": 302, "figures": rows})
    assert [row["values"] for row in shown["effects_total"]] == [
        ("12.5 s", "10 s", "+2.5 s"), ("2", "3", "−1"), ("1 min", "1 min", "none"),
    ]  # fmt: skip
    assert (len(shown["effects"]), shown["effects_count"]) == (200, 300)
    many = effects({"machines": [f"T{k}" for k in range(40)], "compared_count": 0, "moved_count": 0, "figures": []})
    assert many["corrected"].endswith("T10, T11 and 28 more")


def stretch(machine: int, *, is_corrected: bool) -> Stretch:
    """A segment of 120 pairs, machine ``machine`` seconds ahead."""
    times = [START + timedelta(hours=k) for k in range(120)]
    pairs = tuple((at, machine + (k % 7 - 3) * 0.01) for k, at in enumerate(times))
    return Stretch(1, times[0], times[-1], float(machine), 0.0, 0.5, 120, is_corrected, pairs)


def test_clocks_are_drawn_as_far_as_the_page_carries_them() -> None:
    """24 clocks of 120 pairs are about 1 MB: drawn are the corrected one and those furthest ahead, in order of name."""
    stretches = {f"T{k:02}": [stretch(k, is_corrected=k == 3)] for k in range(24)}
    drawn = draw(stretches, Local(ZoneInfo("UTC")))
    assert sum(len(figure.svg.encode()) for figure in drawn) < CHART_BYTES
    names = [figure.says.removeprefix("Clock of ").partition(".")[0] for figure in drawn]
    assert names[0] == "T03"
    assert names[1:] == [f"T{k:02}" for k in range(24 - len(names) + 1, 24)]
    assert len(drawn) > 3


def test_a_room_of_long_names_keeps_the_page_below_its_weight(reading: Reading) -> None:
    """2,000 machines with names of 200 letters of two bytes, each with a segment and figures that moved."""
    names = [f"{'é' * 196}{k:04}" for k in range(2000)]
    segment = {
        "started": None, "reference": None, "offset_s": 1.0, "within_s": 0.5, "drift_ppm": 0.0, "pairs": 9,
        "is_corrected": True,
    }  # fmt: skip
    rows = [{**moved("machine", "lost_s", 12.5, 10.0), "name": name} for name in names]
    figures = {
        **reading.figures,
        "clocks": [{"machine": name, "pairs": 9, "segments": [segment]} for name in names],
        "clock_effects": {"machines": names, "compared_count": 4000, "moved_count": 2000, "figures": rows},
    }
    full = replace(reading, figures=figures)
    page = fill(page_environment(full), clocks_sheet(full))
    assert len(page.encode()) < 500_000
    assert re.search(r"The first \d+ of 2,000 segments; data/figures.json has them all.", page)
    assert "measure_clock_effects" in page


def store_of(machines: int, pairs: int, corrected: set[int]) -> Store:
    store = Store(Path(":memory:"))
    names = [f"T{k:04}" for k in range(machines)]
    store.write(
        "raw_clock_segments",
        pl.DataFrame(
            {
                "machine": names,
                "segment_no": 1,
                "offset_s": [float(k) for k in range(machines)],
                "within_s": 0.5,
                "pairs_count": pairs,
                "is_corrected": [k in corrected for k in range(machines)],
            }
        ),
    )
    frame = pl.DataFrame({"machine": names, "segment_no": 1})
    times = pl.DataFrame({"house_at_utc": [START + timedelta(hours=k) for k in range(pairs)]})
    store.write("raw_clock_pairs", frame.join(times, how="cross").with_columns(machine_at_utc=pl.col("house_at_utc")))
    return store


def test_few_pairs_are_all_drawn() -> None:
    with store_of(2, POINTS_AT_MOST, set()) as store:
        assert store.read(CLOCK_PAIRS).height == 2 * POINTS_AT_MOST


def test_many_pairs_are_thinned_evenly() -> None:
    with store_of(1, 10 * POINTS_AT_MOST, set()) as store:
        hours = (store.read(CLOCK_PAIRS)["house_at_utc"] - START).dt.total_hours().to_list()
    assert len(hours) == POINTS_AT_MOST
    assert {after - before for before, after in pairwise(hours)} == {10}


def test_of_many_machines_the_corrected_and_then_the_worst_are_drawn() -> None:
    """Offsets of 0, 1, 2 … s with one ±: beside 7 and 8, which are corrected, the last 22 of 3,000 stand out."""
    with store_of(3000, 6, {7, 8}) as store:
        machines = store.read(CLOCK_PAIRS)["machine"].unique(maintain_order=True).to_list()
    assert len(machines) == MACHINES_AT_MOST == 24
    assert machines == ["T0007", "T0008", *(f"T{k}" for k in range(2978, 3000))]


def test_the_page_has_its_parts(rendered: Rendered) -> None:
    page = rendered.text("clocks.html")
    assert "Corrected: T1." in page
    assert "above, machine minus house at each of 9 pairs" in page
    assert 'href="definitions.html#clock_effects"' in page
    assert ">corrected</td>" in page
    assert 'href="clocks.html"' in rendered.text("data-quality.html")
    assert 'href="clocks.html"' in rendered.text("index.html")
    assert "cannot be told from an offset" in page
