"""Moves event lines of closed months out of the database into Parquet, a partition a month, that is read beside it.

A part is never changed once it is there: it bears the sum of its bytes as its name, and ``archived_files`` says which
files' rows in it count. The view ``raw_events`` reads the database's rows and those, so that whoever reads it sees no
difference. Parts are written before the database says that they count, and taken away after it has ceased to.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pipeline.archived_parts import PARTS, require_whole
from pipeline.digests import digest_file
from pipeline.errors import OutputError, QuestionError, StoreError
from pipeline.ingest.archived import FILES, archived_files
from pipeline.ingest.event_rows import COLUMNS, TABLE, VIEW
from pipeline.ingest.feeds import EVENTS
from pipeline.keeping.holding import database_of, drafts_beside, held, keep_name, quoted
from pipeline.store import Store, archive_of

MONTH = re.compile(r"\d{4}-\d{2}")
MAKE = f"""
    create table if not exists {PARTS} (
        part_no bigint, part varchar, month varchar, rows_count bigint, size_bytes bigint, sha256 varchar
    );
    create table if not exists {FILES} (part_no bigint, file varchar);
"""
NAMES = ", ".join(f'"{name}"' for name, _ in COLUMNS)
TIMES = {"switches": "at_utc", "tickets": "opened_at_utc", "bookings": "ended_at_utc"}


@dataclass(frozen=True)
class Archived:
    """What was moved: event lines, the months they are of, and the files that may now leave the folder."""

    database: Path
    lines: int
    months: tuple[str, ...]
    files: tuple[str, ...]


def archive(site: Path, before: str, database: Path | None = None) -> Archived:
    """Move the event lines of the months before ``before`` ("2031-03") to parts beside the database of ``site``.

    Months are those of the site's broadcast day, lines go by their stamp as the machine wrote it. Nothing that is read
    changes. Lines of a file that goes on into an open month move too, but that file must stay in the folder.

    Raises:
        QuestionError: ``before`` is no month, or later than the month that the data reach into.
        StoreError: there was no run yet, or another run is at work.
        OutputError: the parts cannot be written.
    """
    path = database_of(site, database)
    with held(path) as store:
        require_whole(store)
        months = _months(store, before)
        folder = archive_of(path) / "events"
        _make_folder(store, folder)
        _sweep(store, folder)
        moved = [_write(store, folder, *month) for month in months]
        parts = [part for part in moved if part is not None]
        if parts:
            with store.transaction():
                store.run(MAKE)
                for part in parts:
                    _enter(store, part)
                _mark_other_feeds(store, months[-1][1])
                _make_view(store)
        return Archived(
            path,
            sum(part.rows for part in parts),
            tuple(part.month for part in parts),
            tuple(sorted(archived_files(store))),
        )


def take_back(site: Path, database: Path | None = None) -> Archived:
    """Take every archived line into the database again; the parts go.

    ``files`` are those that the next run takes out unless their exports are in the folder again.

    Raises:
        StoreError: nothing is archived, a part is damaged or missing, or another run is at work.
    """
    path = database_of(site, database)
    with held(path) as store:
        require_whole(store, is_thorough=True)
        if not store.has(PARTS):
            raise StoreError(f"{path} has no archive. Nothing was changed.")
        months = store.read(f"select distinct month from {PARTS} order by all")["month"]
        away = tuple(sorted(file for file in archived_files(store) if not (site / file).exists()))
        before = store.value(f"select count(*) from {TABLE}")
        with store.transaction():
            store.run(f"insert into {TABLE} by name {_archived_rows(store)}")
            store.run(f"drop table {FILES}; drop table {PARTS}")
            store.build(EVENTS.table, VIEW, is_view=True)
        lines = store.value(f"select count(*) from {TABLE}") - before
        _sweep(store, archive_of(path) / "events")
    return Archived(path, lines, tuple(months), away)


@dataclass(frozen=True)
class _Part:
    no: int
    part: str
    month: str
    until: datetime
    rows: int
    path: Path


def _months(store: Store, before: str) -> list[tuple[str, datetime]]:
    """Name and end of each month before ``before``, all of them closed."""
    if not MONTH.fullmatch(before):
        raise QuestionError(f'"{before[:20]}" is no month. Name one such as 2031-03.')
    months = list(store.read("select month, ended_at_utc from site_months order by month").iter_rows())
    as_of = store.value("select as_of_at_utc from core_as_of")
    chosen = [(month, ended) for month, ended in months if month < before]
    if any(ended > as_of for _, ended in chosen):
        raise QuestionError(f"The data go until {as_of:%Y-%m-%d}: not every month before {before} is closed.")
    if not chosen:
        raise QuestionError(f"There is no month before {before}. The first is {months[0][0]}.")
    return chosen


def _make_folder(store: Store, folder: Path) -> None:
    if "," in str(store.path.parent.absolute()):
        raise OutputError("An archive cannot lie in a folder that has a comma in its name. Rename the folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"The folder {folder} cannot be made: {error.strerror}. Mend its rights.") from None
    store.look_into_archive()


def _write(store: Store, folder: Path, month: str, until: datetime) -> _Part | None:
    """The rows before ``until`` that no earlier part of this call holds, as a part; None where there are none."""
    where = f"stamped_at_utc < timestamp '{until}'"
    after = store.value("select max(ended_at_utc) from site_months where month < ?", [month])
    if after is not None:  # the first month takes all that was stamped before it, too
        where += f" and stamped_at_utc >= timestamp '{after}'"
    rows = store.value(f"select count(*) from {TABLE} where {where}")
    if not rows:
        return None
    number = _next_number(store, month)
    with drafts_beside(store.path.resolve()) as drafts:
        draft = drafts / "part.parquet"
        store.copy_out(
            f"select {NAMES}, cast({number} as bigint) as part_no from {TABLE} where {where}"
            " order by machine, stamped_at_utc, file, line",
            draft,
        )
        lost = store.value(
            f"select count(*) from (select {NAMES} from {TABLE} where {where}"
            f" except all select {NAMES} from read_parquet('{quoted(draft)}'))"
        )
        if lost:
            raise OutputError(f"{lost} lines of {month} did not arrive in the archive. Nothing was changed; run again.")
        place = folder / f"month={month}" / f"{digest_file(draft)[:16]}.parquet"
        place.parent.mkdir(exist_ok=True)
        os.replace(draft, place)  # noqa: PTH105 - one move, whole or not at all
        keep_name(place.parent)
    return _Part(number, place.relative_to(store.path.parent).as_posix(), month, until, rows, place)


def _next_number(store: Store, month: str) -> int:
    """A number that no part has or had: counted from the months, so that parts of one call differ."""
    last = store.value(f"select max(part_no) from {PARTS}") if store.has(PARTS) else None
    order = store.value("select count(*) from site_months where month <= ?", [month])
    return int(last or 0) + int(order)


def _enter(store: Store, part: _Part) -> None:
    sums = [part.no, part.part, part.month, part.rows, part.path.stat().st_size, digest_file(part.path)]
    store.run(f"insert into {PARTS} values (?, ?, ?, ?, ?, ?)", sums)
    store.run(
        f"insert into {FILES} select ?, file from read_parquet('{quoted(part.path)}') group by file order by file",
        [part.no],
    )
    before = store.value(f"select count(*) from {TABLE}")
    store.run(f"delete from {TABLE} where stamped_at_utc < ?", [part.until])
    if before - store.value(f"select count(*) from {TABLE}") != part.rows:
        raise StoreError(f"The lines of {part.month} are not those that were written. Nothing was changed; run again.")


def _mark_other_feeds(store: Store, until: datetime) -> None:
    """Files of other feeds that speak of closed months alone: their rows stay, and may lose their export."""
    for feed, column in TIMES.items():
        store.run(
            f"insert into {FILES} select 0, file from raw_{feed} where file not in (select file from {FILES})"
            f" group by file having max({column}) < ? order by file",
            [until],
        )


def _make_view(store: Store) -> None:
    rows = f"(select {NAMES} from {TABLE} union all by name {_archived_rows(store)}) as every_row"
    found = re.subn(rf"from {TABLE}\b", f"from {rows}", VIEW)
    if found[1] != 1:
        raise StoreError("The view of the event lines is not one that an archive can join. Nothing was changed.")
    store.build(EVENTS.table, found[0], is_view=True)


def _archived_rows(store: Store) -> str:
    """The select of the archived rows that count; columns that a part does not have are empty."""
    parts = store.read(f"select part from {PARTS} order by part_no")["part"]
    listed = ", ".join("'" + part.replace("'", "''") + "'" for part in parts)
    return (
        f"select {NAMES} from read_parquet([{listed}], union_by_name = true, hive_partitioning = false) as a"
        f" where exists (select 1 from {FILES} as f where f.part_no = a.part_no and f.file = a.file)"
    )


def _sweep(store: Store, folder: Path) -> None:
    """Take parts away that the database does not name: a process was killed before it did, or after it ceased to."""
    named = set(store.read(f"select part from {PARTS}")["part"]) if store.has(PARTS) else set()
    for path in _files(folder):
        if path.relative_to(store.path.parent).as_posix() not in named:
            path.unlink()


def _files(folder: Path) -> Iterator[Path]:
    yield from sorted(folder.glob("month=*/*.parquet")) if folder.is_dir() else ()
