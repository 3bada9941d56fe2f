"""What no machine carries: air on standby, and events that began there, so that machines and total agree."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.evidence.document import numbers
from pipeline.evidence.ground import Ground
from pipeline.evidence.scope import Lines, Number, summed
from pipeline.results import Scope

BEFORE = "standby."
HOW = "what the total has and no machine: the rows of the total without a machine"


class StandbyLines:
    """The figures ``standby.…`` of the whole site."""

    def __init__(self, figures: Mapping[str, Any], ground: Ground) -> None:
        self._figures = figures
        self._ground = ground

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of the whole site; nothing by anything else."""
        return {} if scope.named else dict(numbers(self._figures["standby"], BEFORE))

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The rows of the same figure in the total that belong to no machine."""
        rows = self._ground.all_rows(figure.removeprefix(BEFORE)).filter(pl.col("machine").is_null())
        return summed(figure, scope, value, rows, how=HOW)
