"""Puts all that a site cannot do without into one file: its tables as Parquet, its settings and rulings, their sums."""

from __future__ import annotations

import os
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from pipeline import __version__
from pipeline.answers import open_last_run
from pipeline.archived_parts import PARTS
from pipeline.digests import digest_file
from pipeline.errors import OutputError, SiteError, StoreError
from pipeline.keeping.contents import EXACT, MANIFEST, Contents, FileMember, TableMember
from pipeline.keeping.holding import drafts_beside, keep_name
from pipeline.keeping.views import own_views
from pipeline.out_lock import held_alone
from pipeline.places import SETTINGS
from pipeline.store import DRAFT, Store
from pipeline.upgrade.versions import VERSION, version_of

BEGINNING = (1980, 1, 1, 0, 0, 0)  # the time of every member: the same site gives the same bytes
COLUMNS = """
    select c.table_name, c.column_name, c.data_type
    from duckdb_columns() as c
    inner join duckdb_tables() as t on c.table_oid = t.table_oid and c.database_oid = t.database_oid
    where c.database_name = current_database() and c.schema_name = 'main' and not c.internal
    order by c.table_name, c.column_index
"""
RULINGS = "select file from source_files where feed = 'rulings' order by file"


@dataclass(frozen=True)
class BackedUp:
    """The file that was written, and what is in it."""

    file: Path
    size_bytes: int
    contents: Contents


def back_up(site: Path, file: Path, *, database: Path | None = None, is_replacing: bool = False) -> BackedUp:
    """Write the last run of ``site``, its site.toml and its rulings to ``file``, whole or not at all.

    While it works no run can begin, so that all tables are of one moment. The exports are not in it: each row that was
    read is, with its file, line and text. The same site gives the same bytes.

    Raises:
        StoreError: there was no run yet, or a run is at work.
        OutputError: ``file`` is there and not to be replaced, or cannot be written.
    """
    if file.exists() and not (is_replacing and file.is_file()):
        raise OutputError(f"{file} is there already. Name another file, or replace it with --replace.")
    if not (site / SETTINGS).is_file():
        raise SiteError(f'"{site}" has no {SETTINGS}, which a backup is to hold. Name a site folder.')
    if not file.parent.is_dir():
        raise OutputError(f"The folder {file.parent} does not exist. Make it, or name another file.")
    with open_last_run(site, database) as store, held_alone(file.parent):
        _refuse_archive(store)
        for left in file.parent.glob(f"{DRAFT}{file.name}-*"):
            shutil.rmtree(left, ignore_errors=True)
        with drafts_beside(file) as folder:
            draft = folder / "whole.zip"
            try:
                contents = _write(store, site, draft)
                with suppress(OSError):  # names of people stand in it: no one reads it who may not read the database
                    shutil.copymode(store.path, draft)
                os.replace(draft, file)  # noqa: PTH105 - one move, whole or not at all
            except (OSError, zipfile.BadZipFile) as error:
                told = (getattr(error, "strerror", None) or str(error)).lower()
                raise OutputError(f"{file} cannot be written: {told}. Free some space, or name another.") from None
            keep_name(file.parent)
    return BackedUp(file, file.stat().st_size, contents)


def _refuse_archive(store: Store) -> None:
    if store.has(PARTS):
        raise StoreError(
            f"{store.path} has an archive, which a backup does not hold. Copy the site folder while no run is going on,"
            " or take the archive in again with airhours archive --back."
        )


def _write(store: Store, site: Path, draft: Path) -> Contents:
    with zipfile.ZipFile(draft, "x", zipfile.ZIP_STORED) as bundle:
        contents = Contents(
            store.value("select name from site_settings"),
            f"{store.value('select as_of_at_utc from core_as_of').isoformat()}Z",
            __version__,
            schema_version=version_of(store) or VERSION,
            views=own_views(store),
            tables=tuple(_add_tables(store, bundle, draft.parent)),
            files=tuple(_add_files(store, site, bundle)),
        )
        bundle.writestr(zipfile.ZipInfo(MANIFEST, BEGINNING), contents.text())
    return contents


def _add_tables(store: Store, bundle: zipfile.ZipFile, folder: Path) -> Iterator[TableMember]:
    for table, columns in _tables(store).items():
        part = folder / "table.parquet"
        told = ", ".join(_carried(name, kind) for name, kind in columns.items())
        store.copy_out(f'select {told} from "{table}"', part)
        rows = int(store.value(f'select count(*) from "{table}"'))
        member = TableMember(table, rows, digest_file(part), tuple(columns.items()))
        entry = zipfile.ZipInfo(member.member, BEGINNING)
        with part.open("rb") as source, bundle.open(entry, "w", force_zip64=True) as to:
            shutil.copyfileobj(source, to, 1 << 20)
        part.unlink()
        yield member


def _tables(store: Store) -> dict[str, dict[str, str]]:
    """Name and type of the columns of each table, in their order."""
    found: dict[str, dict[str, str]] = {}
    for table, column, kind in store.read(COLUMNS).iter_rows():
        found.setdefault(table, {})[column] = kind
    return found


def _carried(name: str, kind: str) -> str:
    """The column as Parquet holds it exactly."""
    column = '"' + name.replace('"', '""') + '"'
    return column if EXACT.fullmatch(kind) else f"cast({column} as varchar) as {column}"


def _add_files(store: Store, site: Path, bundle: zipfile.ZipFile) -> Iterator[FileMember]:
    """The site.toml and the files of rulings that are loaded; a packed file's own name has the member's behind it."""
    for name in (SETTINGS, *store.read(RULINGS)["file"]):
        path = site / name
        if path.is_file():
            content = path.read_bytes()
            member = FileMember(name, sha256(content).hexdigest())
            bundle.writestr(zipfile.ZipInfo(member.member, BEGINNING), content)
            yield member
