"""A site's last run for a person's own questions: figures and tables as polars frames, and the database for SQL.

    import pipeline

    with pipeline.open_site("sample_logs") as site:
        print(site.months().select("month", "air_s", "protect_switches"))

Everything is only read. What goes wrong is an ``AirhoursError`` whose text is one plain sentence; the engine's own
connection raises its own errors.
"""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from types import TracebackType
from typing import Any

import polars as pl

from pipeline.answers import figures_of, open_last_run, settings_of
from pipeline.errors import QuestionError, StoreError
from pipeline.exports import export_tables, readable_tables, table_select
from pipeline.outputs import figure_rows
from pipeline.settings import Settings
from pipeline.store import Connection, Store

KEYS = ("month", "channel", "machine")


def read_site_of(site: Path | str, database: Path | str | None = None) -> SiteReading:
    """The last run of the site folder ``site``, open for reading; see `pipeline.open_site`."""
    return SiteReading(Path(site), Path(database) if database is not None else None)


class SiteReading:
    """One site as its last run left it. Use as a context manager, or close it; a run cannot begin while it is open."""

    def __init__(self, site: Path, database: Path | None = None) -> None:
        """Open the database of ``site`` (``site``/airhours.duckdb unless named) for reading only.

        Raises:
            StoreError: there was no run yet, or a run is at work (BusyStoreError).
        """
        self.site = site
        self._open: Store | None = open_last_run(site, database)
        self._own: Connection | None = None
        self._figures = figures_of(self._store)
        self._tables = readable_tables(self._store)
        self.settings: Settings = settings_of(self._store)

    def __enter__(self) -> SiteReading:
        """Return the open site."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the database."""
        self.close()

    def close(self) -> None:
        """Close the database; frames that were read stay."""
        for opened in (self._own, self._open):
            if opened is not None:
                opened.close()
        self._own = self._open = None

    @property
    def connection(self) -> Connection:
        """The DuckDB connection, read-only, with the tables of docs/tables.md and persons as the room wrote them.

        Times are naive UTC. A write raises ``duckdb.InvalidInputException``.
        """
        if self._own is None:  # not the store's own: a result that is left half read would block that one
            self._own = self._store.another()
        return self._own

    def figures_document(self) -> dict[str, Any]:
        """The content of figures.json."""
        return deepcopy(self._figures)

    def figures(self) -> pl.DataFrame:
        """Every figure as a row, as in figures.csv: group, month, channel, machine, figure, value (null: not known)."""
        return figure_rows(self._figures)

    def months(self) -> pl.DataFrame:
        """A row a month, a column a figure; nested names are joined by a dot, as in "to_take_s.median"."""
        return self._wide("months", "month")

    def channels(self) -> pl.DataFrame:
        """A row a channel, a column a figure."""
        return self._wide("channels", "channel")

    def machines(self) -> pl.DataFrame:
        """A row a machine, a column a figure."""
        return self._wide("machines", "machine")

    def incidents(self) -> pl.DataFrame:
        """``core_incidents``, in order of time."""
        return self.table("core_incidents").sort("started_at_utc", "incident")

    def interruptions(self) -> pl.DataFrame:
        """``core_interruptions``: a row a stretch of lost air."""
        return self.table("core_interruptions")

    def switches(self) -> pl.DataFrame:
        """``core_switches``: a row a change of feed inside an air window."""
        return self.table("core_switches")

    def events(self) -> pl.DataFrame:
        """``core_events``: a row a line of a machine's log, at its corrected time."""
        return self.table("core_events")

    def tables(self) -> tuple[str, ...]:
        """The names of all tables; docs/tables.md describes each."""
        return tuple(sorted(self._tables))

    def table(self, name: str) -> pl.DataFrame:
        """A whole table in the order of its key; persons read "person 1" … unless site.toml shows them.

        Raises:
            QuestionError: there is no such table.
        """
        select = table_select(self._tables, name, shows_persons=self.settings.show_persons)
        return self._store.read(select)

    def query(self, sql: str, parameters: list[Any] | None = None) -> pl.DataFrame:
        """The rows of one select of your own, persons as the room wrote them; exact decimals become floats.

        Raises:
            QuestionError: the engine cannot answer it, or it would write.
        """
        store = self._store
        try:
            return store.read(sql, parameters)
        except StoreError:
            raise
        except Exception as error:  # the engine has a tree of errors of its own
            told = " ".join(str(error).splitlines()[:1]).rstrip(".")
            raise QuestionError(f"The query cannot be answered: {told[:300]}.") from None

    def export(self, folder: Path | str) -> tuple[Path, ...]:
        """Write every table to ``folder``/TABLE.parquet, persons as in `table`; returns the paths.

        Raises:
            OutputError: the folder cannot be written.
        """
        return export_tables(self._store, self._tables, Path(folder), shows_persons=self.settings.show_persons)

    @property
    def _store(self) -> Store:
        if self._open is None:
            raise StoreError(f"The database of {self.site} is closed. Open the site again.")
        return self._open

    def _wide(self, group: str, key: str) -> pl.DataFrame:
        rows = figure_rows(self._figures).filter(pl.col("group") == group)
        wide = rows.drop("group", *(other for other in KEYS if other != key))
        return wide.pivot("figure", index=key, values="value")
