"""Pages of lists of made-up evidence: short lists whole, long ones as sums, every place there, nothing unescaped."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.render.filling import fill, page_environment
from pipeline.render.lines_blocks import MOST
from pipeline.render.lines_pages import figure_links, lines_sheets
from pipeline.render.reading import Reading
from tests.render.made_up_evidence import START, MadeEvidence, MadeScope, stretches

ENTRY = {"air_s": 9.0, "unknown_s": 0.0, "unproved_s": 0.0}
NO_ROWS = {"read": 0, "kept": 0, "repeats": 0, "set_aside": 0}
PARTS = ("exposed_s", "unproved_s", "demands", "demands_met", "demands_healed")  # what other figures are added from


def counts(count: int) -> pl.DataFrame:
    return stretches(count).drop("amount_us").with_columns(amount=pl.lit(1, dtype=pl.Int64))


def lines_of(**own: pl.DataFrame | tuple[str, ...]) -> dict[str, pl.DataFrame | tuple[str, ...]]:
    given: dict[str, pl.DataFrame | tuple[str, ...]] = {**own}
    for name in PARTS:
        given.setdefault(name, (stretches if name.endswith("_s") else counts)(0))
    return given


def pages(reading: Reading, evidence: MadeEvidence, figures: dict[str, Any]) -> dict[str, str]:
    site = {**reading.site, "days": days(89)}
    made = replace(reading, figures={**reading.figures, **figures}, site=site)
    links = figure_links(made, evidence)
    environment = page_environment(made, links)
    return {
        sheet.name: fill(environment, sheet).replace("\u00a0", " ") for sheet in lines_sheets(made, evidence, links)
    }


def days(count: int) -> list[dict[str, Any]]:
    first = date(2031, 2, 1)
    return [
        {
            "day": first + timedelta(days=day),
            "month": f"{first + timedelta(days=day):%Y-%m}",
            "started_at_utc": START + timedelta(days=day),
        }
        for day in range(count)
    ]


@pytest.fixture
def figures() -> dict[str, Any]:
    return {
        "total": ENTRY, "causes": [], "files": [], "rows": NO_ROWS, "machines": [],
        "channels": [], "month_channels": [],
        "months": [{"month": "2031-02", **ENTRY, "causes": []}, {"month": "2031-03", **ENTRY, "causes": []}],
    }  # fmt: skip


SCOPES = (MadeScope(), MadeScope(month="2031-02"), MadeScope(month="2031-03"))


def test_a_short_list_is_shown_whole_with_its_rows(reading: Reading, figures: dict[str, Any]) -> None:
    evidence = MadeEvidence(SCOPES, lines_of(lost_s=stretches(3)))
    page = pages(reading, evidence, figures)["lines.html"]
    section = page[page.index('id="lost_s"') : page.index('id="exposed_s"')]
    assert '<data value="4.5"><strong>4.5 s</strong></data> (4.500 s), the sum of these' in section
    assert section.count('<tr><th scope="row" class="n">') == 3
    assert section.count("<b>begins</b>: begins here (events/a.csv, line ") == 3
    assert "row 1 of &lt;b&gt;begins&lt;/b&gt;" in section
    assert "2031-02-01 06:00:01.50" in section  # 05:00:01.5 UTC is 06:00:01.5 in Stockholm in winter
    assert "airhours lines SITE lost_s --limit 0" in section
    assert evidence.asked == 1  # for all pages and figures together


def test_a_long_list_stands_as_sums_that_lead_to_the_months(reading: Reading, figures: dict[str, Any]) -> None:
    # 1.5 s every 7 h from 1 February 05:00: 28 days hold 96 of them (28 × 24 / 7), the rest is March's.
    evidence = MadeEvidence(SCOPES, lines_of(lost_s=stretches(MOST + 100)))
    made = pages(reading, evidence, figures)
    page = made["lines.html"]
    section = page[page.index('id="lost_s"') : page.index('id="exposed_s"')]
    assert '<a href="lines-month-2031-02.html#lost_s">February 2031</a></th><td class="n">96</td>' in section
    assert '<td class="n">144.000</td>' in section
    assert '<td class="n">66.000</td>' in section  # 44 × 1.5 s
    assert '<td class="n">210.000</td>' in section  # together
    month = made["lines-month-2031-02.html"]
    assert re.search(r'<th scope="row" class="t">2031-02-01</th><td class="n">4</td><td class="n">6.000</td>', month)
    assert "begins here" not in section


def test_a_figure_worked_out_from_others_leads_to_them(reading: Reading, figures: dict[str, Any]) -> None:
    evidence = MadeEvidence(SCOPES, lines_of(lost_s=stretches(2), continuity=("lost_s",)))
    page = pages(reading, evidence, figures)["lines-month-2031-02.html"]
    assert '<a href="lines-month-2031-02.html#lost_s">lost_s</a> = 3.000 s' in page
    assert ", half of it; " in page


def test_a_zero_is_listed_as_none(reading: Reading, figures: dict[str, Any]) -> None:
    page = pages(reading, MadeEvidence(SCOPES, lines_of(forced=counts(0))), figures)["lines.html"]
    section = page[page.index('id="forced"') : page.index('id="exposed_s"')]
    assert '<data value="0"><strong>0</strong></data>: none.' in section
    assert "<table" not in section


def test_what_is_listed_and_does_not_add_up_is_said_loudly(reading: Reading, figures: dict[str, Any]) -> None:
    class Wrong(MadeEvidence):
        def lines(self, figure: str, scope: MadeScope) -> Any:
            lines = super().lines(figure, scope)
            return replace(lines, value=99.0) if figure == "lost_s" else lines

    page = pages(reading, Wrong(SCOPES, lines_of(lost_s=stretches(2))), figures)["lines.html"]
    assert "Worked out anew from what is listed it is 3.000 s, which is not the same: do not use it." in page
    sound = pages(reading, MadeEvidence(SCOPES, lines_of(lost_s=stretches(2))), figures)["lines.html"]
    assert "do not use it" not in sound


def test_pages_of_hostile_names_are_plain_and_their_words_stay_words(reading: Reading, figures: dict[str, Any]) -> None:
    hostile = '"><script>alert(1)</script>'
    evidence = MadeEvidence((MadeScope(), MadeScope(machine=hostile)), lines_of(lost_s=stretches(1)))
    made = pages(reading, evidence, {**figures, "machines": [{"machine": hostile, **ENTRY}]})
    assert list(made) == ["lines.html", "lines-machine-script-alert-1-script.html", "lines-files.html"]
    assert not [page for page in made.values() if "<script>" in page]
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in made["lines-machine-script-alert-1-script.html"]


def test_a_page_of_long_names_keeps_its_weight_and_its_sums(reading: Reading, figures: dict[str, Any]) -> None:
    """60 figures of 40 items with names of 400 letters of two bytes weigh 2 MB: what does not fit stands as sums."""
    long = stretches(MOST).with_columns(what=pl.lit("å" * 400))
    own = {"short_s": stretches(1), **{f"figure{number}_s": long for number in range(60)}}
    page = pages(reading, MadeEvidence(SCOPES, lines_of(**own)), figures)["lines.html"]
    assert len(page.encode()) < 500_000
    assert 0 < page.count("å" * 400) < 60 * MOST
    assert page.count("February 2031</a></th>") > 0
    assert "begins here" in page[page.index('id="short_s"') : page.index('id="figure0_s"')]
    assert "What this page cannot carry" not in page
    assert all(f"SITE figure{number}_s --limit 0" in page for number in range(60))


def test_what_does_not_even_fit_as_sums_is_left_to_the_command(reading: Reading, figures: dict[str, Any]) -> None:
    """200 figures of 89 days each: a day's row takes about 95 bytes, so that all together are more than 1.5 MB."""
    own = {f"figure{number}_s": stretches(400) for number in range(200)}
    page = pages(reading, MadeEvidence(SCOPES, lines_of(**own)), figures)["lines-month-2031-02.html"]
    assert len(page.encode()) < 500_000
    assert "What this page cannot carry is left to the commands." in page
    assert 20 < page.count("400 items by day") < 60  # a list of 8.5 kB in about 400 kB
    assert page.count('<data value="600.0">') == 200  # 400 × 1.5 s, whether it is listed or not


def test_over_many_years_a_long_list_stands_as_sums_by_year(reading: Reading, figures: dict[str, Any]) -> None:
    """1,600 days from 1 February 2031 lie in 53 months and five years; one item in 7 h."""
    site = {**reading.site, "days": days(1600)}
    evidence = MadeEvidence(SCOPES, lines_of(lost_s=stretches(5000)))
    made = replace(reading, figures={**reading.figures, **figures}, site=site)
    links = figure_links(made, evidence)
    sheet = next(lines_sheets(made, evidence, links))
    page = fill(page_environment(made, links), sheet).replace("\u00a0", " ")
    assert "a long one as sums by year, which add up exactly" in page
    # 2032 begins 334 days after the first item: 8,016 h hold those at 0, 7, … 8,015 h.
    assert '<th scope="row" class="t">2031</th><td class="n">1,146</td>' in page


@pytest.mark.slow
def test_a_large_site_costs_no_more_a_page(reading: Reading, figures: dict[str, Any]) -> None:
    """12 months × 4 channels: 1 + 12 + 4 + 48 pages of 30 figures. Bounds are common practice, no source."""
    months = [f"{2031 + month // 12}-{month % 12 + 1:02}" for month in range(12)]
    channels = [f"C{number}" for number in range(4)]
    scopes = (
        MadeScope(), *(MadeScope(month=month) for month in months), *(MadeScope(channel=name) for name in channels),
        *(MadeScope(month=month, channel=name) for month in months for name in channels),
    )  # fmt: skip
    own = {f"figure{number}_s": stretches(MOST if number % 4 == 0 else 400) for number in range(30)}
    large = {
        **figures,
        "months": [{"month": month, **ENTRY, "causes": []} for month in months],
        "channels": [{"channel": name, **ENTRY} for name in channels],
        "month_channels": [{"month": month, "channel": name, **ENTRY} for month in months for name in channels],
    }
    evidence = MadeEvidence(scopes, lines_of(**own))
    began = time.process_time()
    made = pages(reading, evidence, large)
    took = time.process_time() - began
    assert len(made) == 66
    assert took < 0.15 * len(made)
    assert max(len(page.encode()) for page in made.values()) < 500_000
