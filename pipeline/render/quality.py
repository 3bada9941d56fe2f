"""The page on the data: where every row went, what the checks found, how the clocks ran, where the logs are silent."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from pipeline.render.index import period, site_not_known
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet

STRUCK = "[role unknown]"
NOT_SHOWN = "[not shown here: it may name a person]"
# Where the canonical files keep what a person is called; a row too broken to type may still hold it there.
PERSON_CELL = {"switches": (6, 7), "tickets": (12, 13), "reels": (4, 6), "rulings": (6, 9)}
NAMES_PEOPLE = (*PERSON_CELL, "bookings")  # a calendar has organizers and attendees
TEXT_LENGTH = 400


def quality_sheet(reading: Reading) -> Sheet:
    """The data-quality sheet."""
    findings: dict[str, Rows] = {}
    for finding in reading.findings:
        findings.setdefault(finding["check_id"], []).append(finding)
    context = {
        "files": reading.site["files"],
        "rows": reading.figures["rows"],
        "set_aside": [{**row, "text": shown_text(row, reading.persons)} for row in reading.site["set_aside"]],
        "set_aside_counts": reading.site["set_aside_counts"],
        "checks": [
            {**check, "anchor": anchor(check["check_id"]), "findings": findings.get(check["check_id"], [])}
            for check in reading.checks
        ],
        "clocks": reading.figures["clocks"],
        "holes": reading.site["holes"],
        "no_lock": reading.site["no_lock"],
        "rulings": reading.site["rulings"],
        "rulings_count": len(reading.figures.get("rulings", ())),
    }
    return Sheet(
        "data-quality.html",
        "data-quality.html.j2",
        "Data quality",
        period(reading.figures),
        context,
        site_not_known(reading),
    )


def anchor(check_id: str) -> str:
    """A check's name as a place on the page."""
    return re.sub(r"[^a-z0-9]+", "-", check_id.lower()).strip("-")


def shown_text(row: Row, persons: Sequence[str]) -> str:
    """The original text of a set-aside row, cut at 400 characters, with what people are called struck out.

    Of a file in a room's own columns nobody knows which cell a person stands in: of a feed that names people nothing
    is shown. Struck are all cells that stand as a person in any readable row, and the person's own cell where the row
    has the canonical number of cells.
    """
    if row.get("is_mapped") and row["feed"] in NAMES_PEOPLE:
        return NOT_SHOWN
    text = row["text"] or ""
    place, cells_count = PERSON_CELL.get(row["feed"], (0, 0))
    if cells_count:
        cells = next(iter(csv.reader(io.StringIO(text.replace("\0", " ")))), [])
        if len(cells) == cells_count and cells[place].strip():
            persons = (cells[place].strip(), *persons)
        for person in (name for name in persons if name in text):
            text = re.sub(rf"(?:^|(?<=[,;\t\"])) *{re.escape(person)} *(?=[,;\t\"]|$)", STRUCK, text)
    return text if len(text) <= TEXT_LENGTH else f"{text[:TEXT_LENGTH]}…"
