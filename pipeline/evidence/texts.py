"""The text of source rows as it stands in their files, with persons masked unless they are to be shown."""

from __future__ import annotations

from functools import cached_property

import polars as pl

from pipeline.evidence.masking import PERSONS, Mask
from pipeline.store import Store

RAW = (
    "raw_events", "raw_switches", "raw_tickets", "raw_bookings", "raw_machines", "raw_reels", "raw_rulings",
    "raw_set_aside",
)  # fmt: skip
MOST_LINES = 20_000  # said one by one in a select
# The names that logs and bookings use themselves: they are never taken for persons in a row that names none.
NAMES = """
select machine as name from core_heard_spans union select machine from clean_bookings
union select channel from core_takes
union select channel from clean_bookings union select to_machine from core_takes union select reason from core_takes
union select programme from clean_bookings union select "show" from clean_bookings
union select transmission from clean_bookings
"""


class Texts:
    """Texts of rows, fetched a list at a time and kept."""

    def __init__(self, store: Store, *, shows_persons: bool) -> None:
        self._store = store
        self._shows_persons = shows_persons
        self._kept: dict[tuple[str, int], str] = {}

    def beside(self, rows: pl.DataFrame) -> pl.DataFrame:
        """``rows`` with the text of each file and line beside it; null where there is no row."""
        places = self.fetch(rows)
        return rows.with_columns(pl.Series("text", [self._kept.get(place) for place in places], dtype=pl.String))

    def fetch(self, rows: pl.DataFrame) -> list[tuple[str, int]]:
        """Get the texts of ``rows`` that are not there yet, in one select; returns file and line of each row."""
        places = list(zip(rows["file"].to_list(), rows["line"].to_list(), strict=True))
        missing = {place for place in places if place[0] is not None and place not in self._kept}
        if missing:
            self._read(missing)
        return places

    def _read(self, places: set[tuple[str, int]]) -> None:
        files, lines = zip(*sorted(places), strict=True)
        found = self._store.read(self._select(set(lines)), [list(files), list(lines)])
        for file, line, text, person in found.iter_rows():
            shown = text if self._shows_persons else self._mask.text(text, person)
            self._kept.setdefault((file, line), shown)

    @cached_property
    def _tables(self) -> list[str]:
        return [table for table in RAW if self._store.has(table)]

    def _select(self, lines: set[int]) -> str:
        # Said as values, the numbers of the lines let the engine spell out the texts of few rows and not of all.
        near = f" where line in ({', '.join(map(str, sorted(lines)))})" if len(lines) <= MOST_LINES else ""
        tables = " union all ".join(
            f"select file, line, text, {PERSONS.get(table, 'cast(null as varchar)')} as person from {table}"
            f"{near if table == RAW[0] else ''}"
            for table in self._tables
        )
        asked = "select unnest(?::varchar[]) as file, unnest(?::bigint[]) as line"
        return (
            f"select r.file, r.line, r.text, r.person from ({tables}) as r"
            f" inner join ({asked}) as a on r.file = a.file and r.line = a.line order by all"
        )

    @cached_property
    def _mask(self) -> Mask:
        held = [(table, column) for table, column in PERSONS.items() if table in self._tables]
        persons = " union ".join(f"select {column} as name from {table}" for table, column in held)
        return Mask(self._names(persons), self._names(NAMES))

    def _names(self, select: str) -> list[str]:
        names: list[str] = self._store.read(f"select name from ({select}) where name is not null order by name")[
            "name"
        ].to_list()
        return names
