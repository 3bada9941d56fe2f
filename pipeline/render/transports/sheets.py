"""All pages on the transports in their order, the first of them with what the others found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.transports.care_page import care_sheets
from pipeline.render.transports.case_page import case_sheets
from pipeline.render.transports.outlook_page import outlook_sheets
from pipeline.render.transports.parts_page import parts_sheets
from pipeline.render.transports.recording_page import recording_sheets
from pipeline.render.transports.side_by_side import transport_sheet
from pipeline.render.transports.together_page import together_sheets

OTHERS = (case_sheets, outlook_sheets, recording_sheets, parts_sheets, care_sheets, together_sheets)


def transport_sheets(reading: Reading, compared: Mapping[str, Any]) -> Iterator[Sheet]:
    """The sheets; ``compared`` is the result of ``compare_transports``. Those of single machines come last."""
    pages = [list(sheets(reading)) for sheets in OTHERS]
    front = transport_sheet(reading, compared)
    context = {"elsewhere": [_in_short(first) for first, *_ in pages], "counts": counts_by_page(reading.figures)}
    yield replace(front, context={**front.context, **context})
    yield from (first for first, *_ in pages)
    for _, *machines in pages:
        yield from machines


def _in_short(sheet: Sheet) -> dict[str, str]:
    """What a page opens with: its first paragraph is its answer."""
    return {"href": sheet.name, "title": sheet.title, "told": sheet.context["told"][0]}


def counts_by_page(figures: Mapping[str, Any]) -> dict[str, int]:
    """How many events each page counts: each question has its own rule of what an event is."""
    found = figures["transports"]
    return {
        "switches": figures["total"]["protect_switches"],
        "on_air": figures["patterns"]["events"],
        "playback": found["recording"]["faults"]["counted_count"],
        "pairs": found["together"]["failures_count"],
        "care": found["care"]["events_count"],
    }
