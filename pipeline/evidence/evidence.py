"""Every figure's lines: the stretches, events and rows that it is added up from, for any group of figures.

What is worked out here never looks at the value that figures.json has: the two are set side by side.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.evidence import formulas
from pipeline.evidence.bases import COUNTS, SECONDS, TIMES
from pipeline.evidence.document import group_entry, group_scopes, numbers, refuse_strange
from pipeline.evidence.further import Further
from pipeline.evidence.ground import Ground
from pipeline.evidence.proofs import Proofs
from pipeline.evidence.scope import Lines, Number, derived, summed
from pipeline.results import Scope
from pipeline.store import Store


def open_evidence(store: Store, figures: Mapping[str, Any], *, shows_persons: bool) -> Evidence:
    """The lines behind ``figures`` (the content of figures.json), read from the open ``store`` when asked for.

    Reads ``raw_*``, ``clean_*``, ``core_*`` and ``measure_*`` and writes no table; the store must stay open.
    ``shows_persons``: names of persons stand in the texts of rows instead of being masked.
    """
    return Evidence(store, figures, shows_persons=shows_persons)


class Evidence:
    """Scopes, the figures of each, the lines of each figure, and the source rows of any items."""

    def __init__(self, store: Store, figures: Mapping[str, Any], *, shows_persons: bool) -> None:
        self._figures = figures
        self._scopes = tuple(group_scopes(figures))
        self._ground = Ground(store)
        self._further = Further(store, figures, self._ground)
        self._proofs = Proofs(store, shows_persons=shows_persons)
        self._numbers: dict[Scope, tuple[dict[str, Number], dict[str, Number]]] = {}

    def scopes(self) -> tuple[Scope, ...]:
        """Every group of figures.json: the total, then months, channels, machines, months by channel."""
        return self._scopes

    def figures(self, scope: Scope) -> tuple[str, ...]:
        """The names of the figures of a group, nested names joined by a dot ("to_take_s.median"), in their order.

        Of a file its account of rows, of a cause its count and lost seconds.

        Raises:
            FigureError: figures.json has no such group.
        """
        of_group, further = self._numbers_of(scope)
        return tuple(of_group) or tuple(further)

    def further_figures(self, scope: Scope) -> tuple[str, ...]:
        """What figures.json has of a group elsewhere: rows, standby, clock, comparisons; the causes to ask by.

        Raises:
            FigureError: figures.json has no such group.
        """
        return tuple(self._numbers_of(scope)[1])

    def values(self, scope: Scope) -> dict[str, Number]:
        """Every figure of a group that has lines, and its value as figures.json has it.

        Raises:
            FigureError: figures.json has no such group.
        """
        of_group, further = self._numbers_of(scope)
        return of_group | further

    def lines(self, figure: str, scope: Scope) -> Lines:
        """The lines of one figure of one group.

        Raises:
            FigureError: no such figure or group; it names near ones.
        """
        values, further = self._numbers_of(scope)
        refuse_strange("figure", figure, [*values, *further])
        if figure in values:
            return self._of_group(figure, scope, values[figure])
        return self._further.lines(figure, scope, further[figure])

    def sources(self, items: pl.DataFrame, most: int | None = None) -> pl.DataFrame:
        """The source rows of ``items`` (of `Lines`; of at most the first ``most``): item, side, file, line, text, why.

        ``side`` is "begins", "ends" or "says"; file, line and text are null where a reason rests on no row. ``text`` is
        the row as it stands in the file, persons masked unless they are to be shown. Every edge has at least one row,
        but for a month's end, where nothing need be logged.
        """
        return self._proofs.of(items if most is None else items.head(most))

    def _numbers_of(self, scope: Scope) -> tuple[dict[str, Number], dict[str, Number]]:
        """The figures of the group, and what figures.json has of it elsewhere; looked for once, for they are many."""
        if scope not in self._numbers:
            is_group = not (scope.file or scope.cause or scope.pattern)
            of_group = dict(numbers(group_entry(self._figures, scope))) if is_group else {}
            self._numbers[scope] = of_group, self._further.numbers(scope)
        return self._numbers[scope]

    def _of_group(self, figure: str, scope: Scope, value: Number) -> Lines:
        name, _, part = figure.partition(".")
        ground = self._ground
        if figure in SECONDS or figure in COUNTS or part in ("n", "open"):
            return summed(figure, scope, value, ground.rows(figure, scope))
        if name in TIMES:
            of = (f"{name}.n", f"{name}.open")
            how = formulas.QUANTILES[part].format(of=of[0])
            return derived(figure, scope, value, how=how, of=of, total=ground.quantiles(name, scope)[part])
        if figure in formulas.CONTINUITY:
            parts = ("air_s", "lost_s", "unknown_s")
            total = formulas.continuity(figure, *(ground.sum(each, scope) for each in parts))
            return derived(figure, scope, value, how=formulas.CONTINUITY[figure], of=parts, total=total)
        count, air_s = int(ground.value("protect_switches", scope)), ground.value("air_s", scope)
        total = formulas.rate(figure, count, air_s)
        how = formulas.RATES[figure]
        return derived(figure, scope, value, how=how, of=("protect_switches", "air_s"), total=total)
