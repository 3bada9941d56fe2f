"""The page behind the account of the files: lines named, texts not shown, long lists left to the command."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import polars as pl

from pipeline.render.filling import fill, page_environment
from pipeline.render.lines_blocks import MOST
from pipeline.render.lines_files import MOST_ROWS, file_pages, files_sheets
from pipeline.render.lines_names import NO_LINKS, FigureLinks
from pipeline.render.reading import Reading
from tests.render.made_up_evidence import ROWS, MadeEvidence, MadeScope

LINKS = FigureLinks({("", "", ""): "lines.html"}, {})


def account(
    reading: Reading, repeats: int, *, of_all: int | None = None, path: str = "a.csv", lines: Any = None
) -> str:
    """The page of one file with so many repeats; the made-up evidence has two, in lines 3 and 9 of a.csv."""
    file = {"path": path, "read": 90, "kept": 90 - repeats, "repeats": repeats, "set_aside": 0}
    rows: dict[str, Any] = {"read": 90, "kept": 90, "repeats": repeats if of_all is None else of_all, "set_aside": 0}
    made = replace(reading, figures={**reading.figures, "files": [file], "rows": rows})
    links = replace(LINKS, files=file_pages([file]))
    (sheet,) = files_sheets(made, MadeEvidence((MadeScope(),), lines or {}), links)
    return fill(page_environment(made, LINKS), sheet)


def test_many_files_with_long_names_stand_on_several_pages(reading: Reading) -> None:
    """2,000 files of 230 letters: every account stands on one page, its links lead there, no page is over 500 kB."""
    files = [
        {"path": f"{'é' * 115}{number:04}.csv", "read": 1, "kept": 1, "repeats": 0, "set_aside": 0}
        for number in range(2000)
    ]
    rows = {"read": 2000, "kept": 2000, "repeats": 0, "set_aside": 0}
    made = replace(reading, figures={**reading.figures, "files": files, "rows": rows})
    links = replace(LINKS, files=file_pages(files))
    sheets = list(files_sheets(made, MadeEvidence((MadeScope(),), {}), links))
    pages = {sheet.name: fill(page_environment(made, links), sheet) for sheet in sheets}
    assert max(len(page.encode()) for page in pages.values()) < 500_000
    assert len(pages) > 1
    places = [(name, place) for name, page in pages.items() for place in re.findall(r'<h2 id="(file-\d+)"', page)]
    assert [place for _, place in places] == [f"file-{number}" for number in range(1, 2001)]
    assert all(
        f'href="{name}#{place}"' in links.file_fig("1", number) for number, (name, place) in enumerate(places, 1)
    )
    assert all(f'<a href="{other}">' in page for name, page in pages.items() for other in pages if other != name)


def test_lines_are_named_with_what_became_of_them(reading: Reading) -> None:
    page = account(reading, 2)
    assert '<p id="file-1-repeats">Repeats: <data value="2"><strong>2</strong></data>.' in page
    assert '<th scope="row" class="n">3</th><td class="w">repeat of &lt;b&gt;an&lt;/b&gt; earlier row</td>' in page
    assert "airhours lines SITE repeats --file a.csv --limit 0" in page


def test_a_count_that_the_lines_do_not_bear_out_is_said(reading: Reading) -> None:
    assert "Counted anew it is not the same: do not use it." in account(reading, 3)


def test_more_rows_than_a_run_can_look_up_are_left_to_the_command(reading: Reading) -> None:
    page = account(reading, 2, of_all=MOST_ROWS + 1)
    assert '<th scope="row" class="n">' not in page
    assert "airhours lines SITE repeats" in page
    assert '<th scope="row" class="n">' in account(reading, 2, of_all=MOST_ROWS)


def test_a_list_too_long_for_a_page_is_left_to_the_command(reading: Reading) -> None:
    many = pl.concat([ROWS] * (MOST // 2 + 1))
    page = account(reading, many.height, lines={"rows.repeats": many})
    assert '<th scope="row" class="n">' not in page
    assert f'<data value="{many.height}">' in page
    assert "do not use it" not in page


def test_a_hostile_file_name_stays_a_word_and_can_be_pasted(reading: Reading) -> None:
    page = account(reading, 0, path="a'; rm -rf ~ #<script>.csv")
    assert "<script>" not in page
    assert "--file &#39;a&#39;&#34;&#39;&#34;&#39;; rm -rf ~ #&lt;script&gt;.csv&#39;" in page


def test_a_count_is_linked_where_there_are_lists_and_plain_where_not() -> None:
    assert LINKS.file_fig("7", 3, "set_aside") == '<a class="fig" href="lines-files.html#file-3-set-aside">7</a>'
    assert LINKS.file_fig("7", 3) == '<a class="fig" href="lines-files.html#file-3">7</a>'
    assert NO_LINKS.file_fig("<7>", 3) == "&lt;7&gt;"
