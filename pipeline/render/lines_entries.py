"""What stands on each page of lists: the figures of its group, what is added from them, comparisons, and causes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import polars as pl

from pipeline.render.evidence_door import Evidence, Lines
from pipeline.render.lines_names import Key
from pipeline.results import Scope

# Printed on other pages and no figures of figures.json: the figures and their signs, added up here.
JOINED = {
    "unprotected": (("exposed_s", 1), ("unproved_s", 1)),
    "demands_failed": (("demands", 1), ("demands_met", -1), ("demands_healed", -1)),
}
CAUSE_PARTS = ("count", "lost_s", "stated", "running_ratio")
LEFT_TO_THE_COMMAND = ("rows.",)  # as long as the files themselves, or listed file by file


@dataclass(frozen=True)
class Entry:
    """One figure of a page: its place there, its name for the evidence, and of what; ``scope`` None: see `joined`."""

    id: str
    figure: str
    scope: Scope | None


@dataclass(frozen=True)
class Joined:
    """The lines of a figure that only pages print: a sum or difference of others."""

    value: float | int | None
    how: str
    of: tuple[str, ...]
    of_scope: Scope
    total: float | int | None
    items: pl.DataFrame


def entries(evidence: Evidence, figures: Mapping[str, Any], scope: Scope) -> Iterator[Entry]:
    """The figures of a scope's page, in order."""
    names = evidence.figures(scope)
    yield from (Entry(name, name, scope) for name in names)
    yield from (Entry(name, name, None) for name in JOINED)
    for name in evidence.further_figures(scope):
        if not name.startswith(LEFT_TO_THE_COMMAND):
            yield Entry(name, name, scope)
    for number, name in enumerate(cause_names(figures, (scope.month, scope.channel, scope.machine)), start=1):
        of_cause = replace(scope, cause=name)
        yield from (Entry(f"cause-{number}.{part}", part, of_cause) for part in CAUSE_PARTS)


def cause_names(figures: Mapping[str, Any], key: Key) -> list[str]:
    """The causes that figures.json counts of a group, in its order; only of everything and of months."""
    if key[1] or key[2]:
        return []
    months = {month["month"]: month for month in figures["months"]}
    found = months.get(key[0], {}) if key[0] else figures
    return [f"{one['top']}: {one['second']}" if one["second"] else one["top"] for one in found.get("causes", [])]


def joined(name: str, scope: Scope, parts: Mapping[str, Lines]) -> Joined:
    """The lines of a figure of ``JOINED`` from those of its parts."""
    of = JOINED[name]
    value, total = (sum(sign * getattr(parts[part], word) for part, sign in of) for word in ("value", "total"))
    how = f"{of[0][0]}{''.join((' + ' if sign > 0 else ' − ') + part for part, sign in of[1:])}"
    return Joined(value, how, tuple(part for part, _ in of), scope, total, pl.DataFrame())
