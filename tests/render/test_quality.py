"""The data-quality page: people struck out, stop checks told first, every row accounted for."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import Any

from pipeline.render.filling import fill, page_environment
from pipeline.render.language import speaking
from pipeline.render.quality import NOT_SHOWN, STRUCK, anchor, quality_sheet, shown_text
from pipeline.render.reading import Reading
from tests.render.conftest import Rendered
from tests.render.small_room import PERSON


def test_people_are_struck_out_as_whole_cells() -> None:
    row = {"feed": "switches", "text": "31/02,take,One,T1,T2,fault,Someone New"}
    assert shown_text(row, ()) == f"31/02,take,One,T1,T2,fault,{STRUCK}"
    # A word that is somebody's name elsewhere is struck as a cell and left inside a sentence.
    ticket = {"feed": "tickets", "text": 'K-1,T1,x,,,"control track weak",,,,,,,control,extra'}
    assert shown_text(ticket, ("control",)) == f'K-1,T1,x,,,"control track weak",,,,,,,{STRUCK},extra'
    ruling = {"feed": "rulings", "text": "R7,rain,One,x,,,Someone New,,No such word"}
    assert shown_text(ruling, ()) == f"R7,rain,One,x,,,{STRUCK},,No such word"
    line = {"feed": "switches", "text": '{"at": "x", "by": "Someone New"}'}
    assert shown_text(line, ("Someone New",)) == f'{{"at": "x", "by": "{STRUCK}"}}'
    assert shown_text({"feed": "events", "text": "a,b,c,d,e,f,g"}, ("c",)) == "a,b,c,d,e,f,g"


def test_rows_in_a_rooms_own_columns_are_not_shown_where_they_may_name_people() -> None:
    row = {"feed": "switches", "text": "Someone New;31/02", "is_mapped": True}
    assert shown_text(row, ()) == NOT_SHOWN
    assert shown_text({**row, "feed": "events"}, ()) == row["text"]


def test_long_text_is_cut() -> None:
    assert len(shown_text({"feed": "events", "text": "x" * 5000}, ())) == 401


def test_anchor_is_a_plain_name() -> None:
    assert anchor("Takes <fit>!") == "takes-fit"


def test_the_page_accounts_for_every_file_and_masks_people(rendered: Rendered) -> None:
    page = rendered.text("data-quality.html")
    rows = rendered.figures["rows"]
    assert rows["read"] == rows["kept"] + rows["repeats"] + rows["set_aside"]
    assert f"{rows['read']} read = {rows['kept']}" in page
    assert PERSON not in page
    assert STRUCK in page
    assert page.index("every row ends in one place") < page.index("a booking has one id")


def test_a_failed_stop_is_the_first_thing_on_the_front_page(rendered: Rendered) -> None:
    front = rendered.text("index.html")
    body = front[front.index("<h1>") :]
    notice = body.index("1 data check of the kind stop failed")
    assert notice < body.index("<h2")
    assert 'href="data-quality.html#check-files-whole"' in body
    assert all("of the kind stop failed" in html for html in rendered.html.values())


LONG = "é" * 200


def many(row: dict[str, Any], count: int) -> list[dict[str, Any]]:
    """So many rows with long names that differ."""
    return [{name: f"{LONG}{k}" if value == LONG else value for name, value in row.items()} for k in range(count)]


def full_of_trouble(reading: Reading) -> Reading:
    """1,000 rows in every list of the page, with names of 200 letters of two bytes."""
    at = datetime(2031, 3, 1)  # noqa: DTZ001 - naive UTC
    file = {
        "file": LONG, "feed": "events", "read_count": 9, "kept_count": 9, "repeat_count": 0, "set_aside_count": 0,
        "sha256": "0" * 64, "missing_columns": LONG,
    }  # fmt: skip
    ruling = {
        "ruling": LONG, "rules": "cause", "channel": LONG, "at_utc": at, "until_utc": None, "says": LONG, "why": LONG,
        "decided_at_utc": at, "fits_count": 0, "overrode": "", "is_fitting": False, "why_not": LONG, "file": LONG,
        "line": 7, "ruled_by": None,
    }  # fmt: skip
    hole = {"month": "2031-03", "channel": LONG, "feed": LONG, "unknown_s": 9.0, "spans_count": 1, "longest_s": 9.0}
    aside = {"feed": "events", "file": LONG, "line": 7, "reason": LONG, "text": LONG, "is_mapped": False}
    counts = {"feed": "events", "reason": LONG, "rows_count": 3}
    site = {
        **reading.site, "files": many(file, 1000), "set_aside": many(aside, 1000), "rulings": many(ruling, 1000),
        "set_aside_counts": many(counts, 1000), "holes": many(hole, 1000),
        "no_lock": many({"machine": LONG, "events_count": 3}, 39),
    }  # fmt: skip
    findings = [
        {"check_id": check["check_id"], "feed": "events", "file": f"{LONG}{k}", "line": 7, "what": LONG}
        for check in reading.checks
        for k in range(20)
    ]
    segment = {
        "started": None, "reference": None, "offset_s": 1.0, "within_s": 0.5, "drift_ppm": 0.0, "pairs": 9,
        "is_corrected": True,
    }  # fmt: skip
    clocks = [{"machine": f"{LONG}{k}", "pairs": 9, "segments": [segment]} for k in range(1000)]
    rows = {"read": 9000, "kept": 8000, "repeats": 0, "set_aside": 1000}
    figures = {**reading.figures, "clocks": clocks, "rows": rows, "rulings": many(ruling, 1000)}
    return replace(reading, site=site, figures=figures, findings=findings)


def test_a_room_full_of_trouble_still_fits_on_the_page(reading: Reading) -> None:
    full = full_of_trouble(reading)
    page = fill(page_environment(full), quality_sheet(full))
    assert len(page.encode()) < 500_000
    assert re.search(r"The first \d+ of 1,000 files; data/figures.json has them all.", page)
    assert re.search(r"The first \d+ of 1,000 segments; data/figures.json has them all.", page)
    assert re.search(r"The last \d+ decided of 1,000: what a person", page)
    assert re.search(r"The latest \d+ of 1,000\.", page)
    assert re.search(r"<span>\d+ of 1,000 rows, at most twenty of each reason", page)


def test_in_german_rules_are_german_and_what_was_found_says_that_it_is_english(reading: Reading) -> None:
    settings = replace(reading.settings, language="de", locale="de-DE")
    german = replace(reading, settings=settings)
    with speaking("de", "de-DE"):
        page = fill(page_environment(german), quality_sheet(german))
    assert "Jede gelesene Zeile endet an genau einer Stelle" in page
    assert "Every row read ends" not in page
    assert '<td class="w" lang="en">' in page
    english = fill(page_environment(reading), quality_sheet(reading))
    assert 'lang="en">' not in english[english.index("<main") :]
