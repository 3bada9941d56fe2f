"""Some pages alone, made anew: byte for byte those that a run writes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from pipeline.render.comparisons import compare_all
from pipeline.render.evidence_door import Evidence
from pipeline.render.filling import fill, page_environment
from pipeline.render.language import speaking
from pipeline.render.lines_pages import figure_links
from pipeline.render.month import month_sheets
from pipeline.render.reading import Reading, read_site
from pipeline.render.sheet import Sheet
from pipeline.render.transports.sheets import transport_sheets
from pipeline.settings import Settings
from pipeline.store import Store

SHEETS: dict[str, Callable[[Reading, Mapping[str, Any]], Iterator[Sheet]]] = {
    "month": lambda reading, comparisons: month_sheets(reading, comparisons["months"]),
    "transports": lambda reading, comparisons: transport_sheets(reading, comparisons["transports"]),
}


def render_some(
    store: Store, settings: Settings, figures: dict[str, Any], kind: str, *, evidence: Evidence, name: str = ""
) -> dict[str, str]:
    """The pages of ``kind``, one of SHEETS, by file name; with ``name`` that page alone, if there is one.

    ``figures`` is the content of figures.json. ``store`` may be open for reading only, and nothing is written.
    """
    with speaking(settings.language, settings.locale):
        reading = read_site(store, settings, figures)
        comparisons = compare_all(figures)
        figures["comparisons"] = comparisons
        environment = page_environment(reading, figure_links(reading, evidence))
        sheets = SHEETS[kind](reading, comparisons)
        return {sheet.name: fill(environment, sheet) for sheet in sheets if name in ("", sheet.name)}
