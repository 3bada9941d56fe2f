"""Show me the lines: what a figure of the last run is added up from, and the source rows that prove it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.answers import figures_of, open_own_run
from pipeline.evidence import Evidence, Scope, open_evidence
from pipeline.evidence.document import cause_names
from pipeline.evidence.telling import lines_data, lines_text, names_text
from pipeline.settings import read_settings

GROUPS = ("month", "channel", "machine")


@dataclass(frozen=True)
class LinesAnswer:
    """The lines as text, and as plain values ready for JSON."""

    text: str
    data: dict[str, Any]


def answer_lines(site: Path, figure: str, scope: Scope, *, limit: int = 0, database: Path | None = None) -> LinesAnswer:
    """The lines behind ``figure`` in ``scope`` (at most ``limit``, 0: all); without a figure the names there are.

    Persons are masked unless site.toml says, as it stands now, that they are shown.

    Raises:
        FigureError: there is no such figure or group; it names near ones.
        SiteError: site.toml cannot be read.
        StoreError: there was no run yet, or it was made by another version.
    """
    shows_persons = read_settings(site).show_persons
    with open_own_run(site, database) as store:
        figures = figures_of(store)
        evidence = open_evidence(store, figures, shows_persons=shows_persons)
        return _lines(evidence, figure, scope, limit) if figure else _names(evidence, scope, figures)


def _lines(evidence: Evidence, figure: str, scope: Scope, limit: int) -> LinesAnswer:
    lines = evidence.lines(figure, scope)
    shown = limit or lines.items.height
    sources = evidence.sources(lines.items, shown)
    return LinesAnswer(lines_text(lines, sources, shown), lines_data(lines, sources, shown))


def _names(evidence: Evidence, scope: Scope, figures: Mapping[str, Any]) -> LinesAnswer:
    values = evidence.values(scope)
    choices = {key: [entry[key] for entry in figures[f"{key}s"]] for key in GROUPS}
    choices |= {"file": [entry["path"] for entry in figures["files"]], "cause": cause_names(figures)}
    told = {} if scope.named else choices
    return LinesAnswer(names_text(scope, values, told), {"scope": scope.named, "figures": values, **told})
