"""Brings a site back from the file of a backup: every sum is proved before anything of the site is touched."""

from __future__ import annotations

import os
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from pipeline.errors import OutputError, QuestionError, StoreError
from pipeline.keeping.contents import EXACT, MANIFEST, Contents, TableMember, not_a_backup, read_contents
from pipeline.keeping.holding import FRESH, attached, drafts_beside, keep_name, put_in_place, quoted
from pipeline.keeping.views import make_views
from pipeline.places import DATABASE
from pipeline.store import Store
from pipeline.upgrade.versions import VERSION

LARGEST_MANIFEST = 16 << 20
BLOCK = 1 << 20


@dataclass(frozen=True)
class Restored:
    """The site and its database as they are after it, and what was in the backup."""

    site: Path
    database: Path
    contents: Contents


def restore(file: Path, site: Path, *, database: Path | None = None, is_replacing: bool = False) -> Restored:
    """Make the database, site.toml and rulings of ``site`` what they were when ``file`` was made.

    Sums, names and counts are proved first. Then the files that people wrote take their places, and the database last:
    each is the old or the new one whenever a process is killed, and restoring again makes all of them new. Other files
    of the folder stay as they are.

    Raises:
        QuestionError: ``file`` is no backup, or damaged.
        OutputError: something would be overwritten and is not to be, or cannot be written.
        StoreError: another run holds the database.
    """
    with _opened(file) as bundle:
        contents = _contents(bundle, file)
        path = database if database is not None else site / DATABASE
        _refuse_overwriting(bundle, contents, site, path, is_replacing=is_replacing)
        is_new = not site.exists()
        try:
            site.mkdir(parents=True, exist_ok=True)
            with Store(path) as store:
                _refuse_full(store, is_replacing=is_replacing)
                _restore(bundle, contents, site, store, file)
        except BaseException:
            if is_new:
                with suppress(OSError):  # it is not empty
                    site.rmdir()
            raise
    return Restored(site, path, contents)


def _restore(bundle: zipfile.ZipFile, contents: Contents, site: Path, store: Store, file: Path) -> None:
    with drafts_beside(store.path.resolve()) as folder:
        draft, part = folder / "new.duckdb", folder / "table.parquet"
        with attached(store, draft):
            for table in contents.tables:
                _unpack(bundle, table.member, table.sha256, part)
                _fill(store, table, part, file)
            make_views(store, contents.views)
        for number, each in enumerate(contents.files):
            _unpack(bundle, each.member, each.sha256, folder / f"{number}")
        for number, each in enumerate(contents.files):
            _put_file(folder / f"{number}", site / each.file)
        put_in_place(store, draft)


@contextmanager
def _opened(file: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(file) as bundle:
            yield bundle
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError) as error:
        raise not_a_backup(str(file), f"it is damaged or no backup ({str(error).rstrip('.').lower()})") from None
    except FileNotFoundError as error:
        if error.filename != str(file):
            raise
        raise QuestionError(f'There is no file "{file}". Name the file that airhours backup wrote.') from None
    except OSError as error:
        raise OutputError(f"The site cannot be written: {(error.strerror or str(error)).lower()}. Mend it.") from None


def _contents(bundle: zipfile.ZipFile, file: Path) -> Contents:
    """The manifest, once the archive is seen to hold its members and nothing else, none of them packed or encrypted."""
    members = {each.filename: each for each in bundle.infolist()}
    if MANIFEST not in members or members[MANIFEST].file_size > LARGEST_MANIFEST:
        raise not_a_backup(str(file), f"it has no {MANIFEST} of a backup")
    if any(each.compress_type != zipfile.ZIP_STORED or each.flag_bits & 1 for each in members.values()):
        raise not_a_backup(str(file), "a member is packed or encrypted, as no backup's is")
    contents = read_contents(bundle.read(MANIFEST), str(file))
    if contents.schema_version > VERSION:
        raise not_a_backup(
            str(file),
            f"airhours {contents.made_by} made it with schema version {contents.schema_version}, and this program knows"
            f" those up to {VERSION}; install the newer airhours",
        )
    if sorted([MANIFEST, *contents.members]) != sorted(each.filename for each in bundle.infolist()):
        raise not_a_backup(str(file), "its members are not those that its manifest lists")
    return contents


def _refuse_overwriting(
    bundle: zipfile.ZipFile, contents: Contents, site: Path, database: Path, *, is_replacing: bool
) -> None:
    """Refuse what would be lost, and a name that leads out of the site folder by way of a link."""
    for each in contents.files:
        target = site / each.file
        if not target.resolve().is_relative_to(site.resolve()) or target.resolve() == database.resolve():
            raise OutputError(f"{target} leads out of the site folder or to its database. Restore to another folder.")
        is_other = target.exists() and (not target.is_file() or target.read_bytes() != bundle.read(each.member))
        if is_other and not is_replacing:
            raise _there_already(target)
    if not database.parent.is_dir() and database.parent != site:
        raise StoreError(f"The folder {database.parent} does not exist. Make it, or name another database.")


def _refuse_full(store: Store, *, is_replacing: bool) -> None:
    if store.tables() and not is_replacing:
        raise _there_already(store.path)


def _there_already(path: Path) -> OutputError:
    return OutputError(f"{path} is there already, and other than in the backup. Replace it with --replace.")


def _unpack(bundle: zipfile.ZipFile, member: str, wanted: str, to: Path) -> None:
    """Write the member's bytes to ``to``, and prove their sum."""
    found = sha256()
    with bundle.open(member) as source, to.open("wb") as target:
        while block := source.read(BLOCK):
            found.update(block)
            target.write(block)
    if found.hexdigest() != wanted:
        raise not_a_backup(str(bundle.filename), f"{member} is not what it was when the backup was made")


def _fill(store: Store, table: TableMember, part: Path, file: Path) -> None:
    named = [('"' + name.replace('"', '""') + '"', kind) for name, kind in table.columns]
    store.run(f'create table {FRESH}.main."{table.table}" ({", ".join(f"{name} {kind}" for name, kind in named)})')
    told = ", ".join(name if EXACT.fullmatch(kind) else f"cast({name} as {kind})" for name, kind in named)
    store.run(f"insert into {FRESH}.main.\"{table.table}\" select {told} from read_parquet('{quoted(part)}')")
    if store.value(f'select count(*) from {FRESH}.main."{table.table}"') != table.rows:
        raise not_a_backup(str(file), f"{table.table} has not as many rows as the manifest says")


def _put_file(draft: Path, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    if place.exists():
        with suppress(OSError):  # a file system without rights
            shutil.copymode(place, draft)
    try:
        os.replace(draft, place)  # noqa: PTH105 - one move, whole or not at all
    except OSError as error:
        raise OutputError(f"{place} cannot be written: {(error.strerror or str(error)).lower()}. Mend it.") from None
    keep_name(place.parent)
