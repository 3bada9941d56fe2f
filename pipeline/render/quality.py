"""The page on the data: where every row went, what the checks found, how the clocks ran, where the logs are silent."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from pipeline.render.index import period, site_not_known
from pipeline.render.language import say, translated
from pipeline.render.page_weight import cells_bytes, fair_shares, fitting, text_bytes
from pipeline.render.quality_words import rules_word, says_word, severity_word
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.table_words import feed_word, kind_word

STRUCK = "[role unknown]"
NOT_SHOWN = "[not shown here: it may name a person]"
# Where the canonical files keep what a person is called; a row too broken to type may still hold it there.
PERSON_CELL = {"switches": (6, 7), "tickets": (12, 13), "reels": (4, 6), "rulings": (6, 9)}
NAMES_PEOPLE = (*PERSON_CELL, "bookings")  # a calendar has organizers and attendees
TEXT_LENGTH = 400
NAMED = 40
# Bytes of the page for each of its lists; with the table of checks and the frame they stay within 500 kB.
FINDING_BYTES, FILE_BYTES, REASON_BYTES, ASIDE_BYTES = 90_000, 80_000, 25_000, 70_000
RULING_BYTES, CLOCK_BYTES, HOLE_BYTES = 45_000, 30_000, 30_000
LINKS_BYTES = 400  # of the links in a row, their file's number apart


def quality_sheet(reading: Reading) -> Sheet:
    """The data-quality sheet."""
    site = reading.site
    segments = [
        {**one, "machine": clock["machine"], "is_first": number == 1}
        for clock in reading.figures["clocks"]
        for number, one in enumerate(clock["segments"], start=1)
    ]
    context = {
        "files": [{**row, "said": feed_word(row["feed"])} for row in fitting(site["files"], FILE_BYTES, _file_bytes)],
        "files_count": len(site["files"]),
        "rows": reading.figures["rows"],
        "set_aside": _set_aside(reading),
        "set_aside_counts": fitting(
            [{**row, "said": feed_word(row["feed"])} for row in site["set_aside_counts"]], REASON_BYTES, _row_bytes
        ),
        "checks": _checks(reading),
        "segments": fitting(segments, CLOCK_BYTES, lambda one: 320 + 2 * text_bytes(one["machine"])),
        "segments_count": len(segments),
        "holes": fitting(site["holes"][::-1], HOLE_BYTES, _row_bytes)[::-1],
        "holes_count": len(site["holes"]),
        "no_lock": site["no_lock"][:NAMED],
        "no_lock_count": len(site["no_lock"]),
        "rulings": _rulings(site["rulings"]),
        "rulings_count": len(reading.figures.get("rulings", ())),
    }
    title, facts = say("Data quality"), site_not_known(reading)
    return Sheet("data-quality.html", "data-quality.html.j2", title, period(reading.figures), context, facts)


def _row_bytes(row: Row) -> int:
    return cells_bytes(*row.values())


def _file_bytes(row: Row) -> int:
    return _row_bytes(row) + LINKS_BYTES


def _set_aside(reading: Reading) -> Rows:
    rows = [{**row, "text": shown_text(row, reading.persons)} for row in reading.site["set_aside"]]
    return list(
        fitting(rows, ASIDE_BYTES, lambda row: cells_bytes(row["file"], row["line"], row["reason"], row["text"]))
    )


def _checks(reading: Reading) -> Rows:
    """The checks in the words of the page, each with as many findings as the page can carry."""
    findings: dict[str, Rows] = {}
    for finding in reading.findings:
        findings.setdefault(finding["check_id"], []).append(finding)
    found = [findings.get(check["check_id"], []) for check in reading.checks]
    shares = fair_shares([sum(map(_row_bytes, rows)) for rows in found], FINDING_BYTES)
    return [
        {
            **check,
            "rule": translated(check["rule"]),
            "why": translated(check["why"]),
            "severity": severity_word(check["severity"]),
            "anchor": anchor(check["check_id"]),
            "findings": fitting(rows, most, _row_bytes),
        }
        for check, rows, most in zip(reading.checks, found, shares, strict=True)
    ]


def _rulings(rows: Rows) -> Rows:
    """The last decided that fit on the page, in the order in which they stand there."""
    decided = sorted(
        range(len(rows)),
        key=lambda place: (rows[place]["decided_at_utc"] is not None, rows[place]["decided_at_utc"] or 0, place),
        reverse=True,
    )
    kept = set(fitting(decided, RULING_BYTES, lambda place: _row_bytes(rows[place])))
    return [
        {
            **row,
            "rules_said": rules_word(row["rules"]),
            "says": says_word(row["says"] or ""),
            "overrode_kind": found if (found := kind_word(row["overrode"] or "")) != row["overrode"] else None,
        }
        for place, row in enumerate(rows)
        if place in kept
    ]


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
