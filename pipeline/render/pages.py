"""From the database and the figures to the folder of pages: every page filled, checked for its words, and written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pipeline.render.clocks_page import clocks_sheet
from pipeline.render.comparisons import compare_all
from pipeline.render.definitions import read_sections
from pipeline.render.evidence_door import Evidence
from pipeline.render.filling import HERE, fill, page_environment
from pipeline.render.find_entries import find_sections
from pipeline.render.find_pages import find_data, find_sheets, noted
from pipeline.render.history_machines import machine_sheets
from pipeline.render.history_reels import reel_sheets
from pipeline.render.incidents import late_incident_sheets
from pipeline.render.index import index_sheet, period
from pipeline.render.language import say, speaking
from pipeline.render.lines_names import NO_LINKS
from pipeline.render.lines_pages import figure_links, lines_sheets
from pipeline.render.month import month_sheets
from pipeline.render.patterns import pattern_sheet
from pipeline.render.pieces import Pieces, reusing
from pipeline.render.quality import quality_sheet
from pipeline.render.reading import Reading, read_site
from pipeline.render.sheet import LateSheet, Sheet
from pipeline.render.transports.sheets import transport_sheets
from pipeline.render.writing import ASSETS, FIND_DATA, write_pages
from pipeline.settings import Settings
from pipeline.store import Store

NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class RenderResult:
    """The pages written: the front page, all of them in order, and the comparisons printed on them as plain values.

    ``pieces`` says where in the pages those parts stand that the next run may take over (see `pieces`).
    """

    index: Path
    pages: tuple[Path, ...]
    comparisons: Mapping[str, Any]
    pieces: Mapping[str, Any]


def render_reports(
    store: Store, settings: Settings, figures: dict[str, Any], out: Path, *,
    evidence: Evidence | None = None, earlier: Mapping[str, Any] = NOTHING, seal: str = "",
) -> RenderResult:  # fmt: skip
    """Write the static pages of a site into ``out``; the same database and figures give the same bytes.

    Reads ``core_*``, ``clean_*``, ``measure_*`` and ``check_*`` and writes no table. ``figures`` is the content of
    figures.json; what the pages compare is added to it. With ``evidence`` every figure on a page leads to its list.
    Pages of an earlier run that are no longer made are removed, other files in ``out`` stay. ``earlier`` is the content
    of that run's manifest: what its pages have in pieces that are as they were is not drawn again. ``seal`` is a word
    for the program.

    Raises:
        OutputError: ``out`` cannot be written.
    """
    pieces = Pieces(out, earlier, seal)
    with speaking(settings.language, settings.locale), reusing(pieces):
        figures["comparisons"] = compare_all(figures)  # so that what they come from is listed with the others
        reading = read_site(store, settings, figures)
        files = _files(reading, evidence, pieces)
    paths = write_pages(out, files)
    pages = tuple(path for path in paths if path.suffix == ".html")
    return RenderResult(out / "index.html", pages, figures["comparisons"], pieces.listing())


def _files(reading: Reading, evidence: Evidence | None, pieces: Pieces) -> dict[str, bytes]:
    """Every file to be written, by its name."""
    links = figure_links(reading, evidence) if evidence is not None else NO_LINKS
    sheets = all_sheets(reading, reading.figures["comparisons"])
    if evidence is not None:
        sheets = chain(sheets, lines_sheets(reading, evidence, links))
    environment = page_environment(reading, links)
    files = {name: (HERE / name).read_bytes() for name in ASSETS}
    titles: dict[str, str] = {}
    for sheet in noted(sheets, titles):
        files[sheet.name] = fill(environment, sheet).encode()
        pieces.settle(sheet.name, files[sheet.name])
    sections = find_sections(reading, links, titles)
    files |= {sheet.name: fill(environment, sheet).encode() for sheet in find_sheets(reading, sections)}
    files[FIND_DATA] = find_data(sections)
    return files


def all_sheets(reading: Reading, comparisons: Mapping[str, Any]) -> Iterator[Sheet | LateSheet]:
    """Every page in the order of the front page's links."""
    yield index_sheet(reading)
    yield from month_sheets(reading, comparisons["months"])
    yield from transport_sheets(reading, comparisons["transports"])
    yield pattern_sheet(reading)
    yield clocks_sheet(reading)
    yield quality_sheet(reading)
    yield Sheet(
        "definitions.html",
        "definitions.html.j2",
        say("Definitions"),
        period(reading.figures),
        {"sections": read_sections()},
    )
    yield from late_incident_sheets(reading)
    yield from machine_sheets(reading)
    yield from reel_sheets(reading)
