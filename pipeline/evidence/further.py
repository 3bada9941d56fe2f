"""What figures.json has beside its groups' figures: rows, standby, causes, clocks and comparisons, each by its kind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from pipeline.evidence.causes import CauseLines
from pipeline.evidence.clocks import ClockLines
from pipeline.evidence.comparisons import ComparisonLines
from pipeline.evidence.ground import Ground
from pipeline.evidence.patterns import PatternLines
from pipeline.evidence.rows import FileLines, RowLines
from pipeline.evidence.scope import Lines, Number
from pipeline.evidence.standby import StandbyLines
from pipeline.results import Scope
from pipeline.store import Store


class Kind(Protocol):
    """One kind of figures: which numbers it has of a scope, and the lines of each."""

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """The values that figures.json has, by dotted name; nothing where the kind does not go by that scope."""

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The lines of one of them."""


class Further:
    """All kinds together."""

    def __init__(self, store: Store, figures: Mapping[str, Any], ground: Ground) -> None:
        self._kinds: tuple[Kind, ...] = (
            RowLines(store, figures),
            FileLines(store, figures),
            StandbyLines(figures, ground),
            CauseLines(store, figures),
            PatternLines(store, figures),
            ClockLines(store, figures),
            ComparisonLines(figures, ground),
        )

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """The values of every kind that goes by ``scope``, by dotted name.

        Raises:
            FigureError: no such file or cause.
        """
        return {name: value for kind in self._kinds for name, value in kind.numbers(scope).items()}

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The lines of ``figure``, which must be one of `numbers`."""
        kind = next(kind for kind in self._kinds if figure in kind.numbers(scope))
        return kind.lines(figure, scope, value)
