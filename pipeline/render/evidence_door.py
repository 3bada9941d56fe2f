"""What the pages ask of whatever holds the lines behind the figures: its shape alone, so that the rooms stay apart."""

from __future__ import annotations

from typing import Protocol

import polars as pl

from pipeline.results import Scope


class Lines(Protocol):
    """One figure taken apart. ``items`` add up exactly to ``value``; a figure worked out from others has none."""

    @property
    def value(self) -> float | int | None:
        """As figures.json has it."""

    @property
    def how(self) -> str:
        """How the value comes about, as a sentence or a formula."""

    @property
    def items(self) -> pl.DataFrame:
        """``item`` from 1, ``started_at_utc``, ``ended_at_utc``, ``channel``, ``machine``, ``what``, and an amount.

        The amount is ``amount_us`` (microseconds) or ``amount`` (a count).
        """

    @property
    def of(self) -> tuple[str, ...]:
        """The names of the figures that a figure without items is worked out from."""

    @property
    def of_scope(self) -> Scope:
        """The scope of these figures."""

    @property
    def total(self) -> float | int | None:
        """Worked out anew from the items or from ``of``."""


class Evidence(Protocol):
    """The lines behind every figure of figures.json."""

    def scopes(self) -> tuple[Scope, ...]:
        """Every group of figures.json, the total first."""

    def figures(self, scope: Scope) -> tuple[str, ...]:
        """The names of the figures that there are of ``scope``, nested ones joined by a dot."""

    def further_figures(self, scope: Scope) -> tuple[str, ...]:
        """The names of what figures.json has of ``scope`` elsewhere: rows, standby, clocks, comparisons."""

    def lines(self, figure: str, scope: Scope) -> Lines:
        """One figure taken apart."""

    def sources(self, items: pl.DataFrame, most: int | None = None) -> pl.DataFrame:
        """``item``, ``side``, ``file``, ``line``, ``text``, ``why``: the rows that prove where each item lies."""
