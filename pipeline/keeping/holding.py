"""Holds a site's database alone, and puts another file in its place while it is held."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pipeline.errors import OutputError, StoreError
from pipeline.places import DATABASE
from pipeline.store import DRAFT, Store
from pipeline.upgrade.versions import refuse_newer, version_of

FRESH = "fresh"  # what a draft is called in the engine while it is being filled


def database_of(site: Path, database: Path | None) -> Path:
    """The database file of ``site``, which must be there.

    Raises:
        StoreError: it is not.
    """
    path = database if database is not None else site / DATABASE
    if not path.is_file():
        raise StoreError(f"{path} does not exist. Run airhours run {site} first.")
    return path


@contextmanager
def held(path: Path) -> Iterator[Store]:
    """The database ``path`` of this program's kind, open and kept from every other process.

    Raises:
        StoreError: another run holds it, another or a newer program made it, or it holds no rows.
    """
    with Store(path) as store:
        refuse_newer(store)
        if version_of(store) is None:
            raise StoreError(f"{path} holds no run of airhours. Name the database of a site that was run.")
        yield store


@contextmanager
def drafts_beside(path: Path) -> Iterator[Path]:
    """A folder for drafts on the disk of ``path``, by a name under which the next holder of that file clears it away.

    Raises:
        OutputError: it cannot be made.
    """
    try:
        folder = tempfile.TemporaryDirectory(prefix=f"{DRAFT}{path.name}-", dir=path.parent, ignore_cleanup_errors=True)
    except OSError as error:
        raise OutputError(f"The folder {path.parent} cannot be written: {error.strerror}. Mend its rights.") from None
    with folder as name:
        yield Path(name)


@contextmanager
def attached(store: Store, draft: Path) -> Iterator[None]:
    """A new database file ``draft``, called ``fresh`` within the block and whole on the disk after it."""
    store.run(f"attach '{quoted(draft)}' as {FRESH}")
    try:
        yield
        store.run(f"checkpoint {FRESH}")
    finally:
        store.run(f"detach {FRESH}")


def put_in_place(store: Store, draft: Path) -> None:
    """Put the closed database ``draft`` where the one that ``store`` holds stands, in one move.

    What a killed run had left in the log beside it is written into the old file first, so that no log is left which
    the new one would be taken to own. Whoever opens the name from then on has the new file.
    """
    place = store.path.resolve()
    store.run("checkpoint")
    with suppress(OSError):  # a file system without rights or owners
        shutil.copymode(place, draft)
        owner = place.stat()
        os.chown(draft, owner.st_uid, owner.st_gid)
    try:
        os.replace(draft, place)  # noqa: PTH105 - one move, whole or not at all
    except OSError as error:
        raise StoreError(f"{place} cannot be replaced: {error.strerror}. Mend the rights of its folder.") from None
    keep_name(place.parent)


def keep_name(folder: Path) -> None:
    """Have a name that was just given in ``folder`` outlast a loss of power, where the system can say so."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def quoted(path: Path) -> str:
    """The path between the quotes of a statement."""
    return str(path).replace("'", "''")
