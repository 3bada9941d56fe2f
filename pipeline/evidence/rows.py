"""The account of rows: which were kept, which are repeats, which were set aside, of the site and of each file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.evidence.document import COUNTED, file_entry, numbers
from pipeline.evidence.ground import as_items
from pipeline.evidence.scope import Lines, Number, derived, summed
from pipeline.results import Scope
from pipeline.store import Store

FEEDS = ("events", "switches", "tickets", "bookings", "machines", "reels", "rulings")
PARTS = ("kept", "repeats", "set_aside")
BEFORE = "rows."
HOW = {
    "kept": "the count of these rows: each stands in the tables that all figures are worked out from",
    "repeats": "the count of these rows: each says the same as an earlier row of its feed",
    "set_aside": "the count of these rows: each does not count, for the reason beside it",
}
READ = "kept + repeats + set_aside: every row that was read ends in exactly one of the three"


class FileLines:
    """The figures read, kept, repeats and set_aside of one file."""

    def __init__(self, store: Store, figures: Mapping[str, Any]) -> None:
        self._rows = Rows(store)
        self._figures = figures

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of a file; nothing by anything else.

        Raises:
            FigureError: no such file.
        """
        return dict(numbers(file_entry(self._figures, scope))) if scope.file else {}

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The rows of the file that ended there."""
        return _lines(self._rows, figure, scope, value, before="")


class RowLines:
    """The figures rows.read, rows.kept, rows.repeats and rows.set_aside of the whole site."""

    def __init__(self, store: Store, figures: Mapping[str, Any]) -> None:
        self._rows = Rows(store)
        self._figures = figures

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of the whole site; nothing by anything else."""
        return {} if scope.named else dict(numbers(self._figures["rows"], BEFORE))

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The rows of all files that ended there."""
        return _lines(self._rows, figure, scope, value, before=BEFORE)


class Rows:
    """Where each row ended, asked of the database when needed: a large room has millions."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._feeds: list[str] | None = None

    def ended(self, part: str, file: str) -> pl.DataFrame:
        """The rows of ``file`` ("": of all files) that were kept, repeats or set_aside, as items."""
        return as_items(self._store.read(f"{self._select(part)} order by file, line", [file, file]))

    def count(self, part: str, file: str) -> int:
        """How many they are."""
        return int(self._store.value(f"select count(*) from ({self._select(part)})", [file, file]))

    def _select(self, part: str) -> str:
        if self._feeds is None:
            self._feeds = [feed for feed in FEEDS if self._store.has(f"clean_{feed}")]
        if part == "set_aside":
            rows = "select file, line, reason as what, 'set aside: ' || reason as says from core_set_aside"
        else:
            rows = " union all ".join(self._of_feed(feed, part) for feed in self._feeds)
        return (
            "select cast(null as timestamp) as started_at_utc, cast(null as timestamp) as ended_at_utc, 1 as amount,"
            " cast(null as varchar) as month, cast(null as varchar) as channel, cast(null as varchar) as machine,"
            f" what, 'row' as kind, file, line, says from ({rows}) where ? = '' or file = ?"
        )

    @staticmethod
    def _of_feed(feed: str, part: str) -> str:
        if part == "kept":
            return f"select file, line, 'row of {feed}' as what, 'kept' as says from clean_{feed}"
        repeat = f"select file, line, 'repeat of an earlier row of {feed}' as what, 'the same again' as says from"
        if feed == "events":  # there may be hundreds of millions of them, so that the load has noted which these are
            return f"{repeat} raw_event_repeats"
        return (
            f"{repeat} raw_{feed}"
            f" where (file, line) not in (select (file, line) from clean_{feed}"
            " union all select (file, line) from core_set_aside)"
        )


def _lines(rows: Rows, figure: str, scope: Scope, value: Number, *, before: str) -> Lines:
    part = figure.removeprefix(before)
    if part != COUNTED[0]:
        return summed(figure, scope, value, rows.ended(part, scope.file), how=HOW[part])
    total = sum(rows.count(each, scope.file) for each in PARTS)
    return derived(figure, scope, value, how=READ, of=tuple(f"{before}{each}" for each in PARTS), total=total)
