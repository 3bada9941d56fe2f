"""What the loading must know of rows that stand in an archive: pipeline/keeping/archiving.py puts them there.

A file whose rows are all archived may leave the folder without its rows leaving the database. Whatever else takes a
file's rows out takes the archived ones out too, for they count only as long as ``archived_files`` names them.
"""

from __future__ import annotations

from pathlib import Path

from pipeline.errors import SiteError
from pipeline.ingest.event_rows import TABLE
from pipeline.results import FileLoad
from pipeline.settings import Settings
from pipeline.store import Store

FILES = "archived_files"


def archived_files(store: Store) -> frozenset[str]:
    """The files that may be away from the folder."""
    if not store.has(FILES):
        return frozenset()
    rows = store.read(f"select distinct file from {FILES} where file not in (select file from {TABLE})")
    return frozenset(rows["file"])


def leave_archived(store: Store, gone: list[FileLoad]) -> list[FileLoad]:
    """``gone`` without the files whose rows stay though they left the folder."""
    archived = archived_files(store) if gone else frozenset()
    return [load for load in gone if load.action != "gone" or load.file not in archived]


def refuse_new_zone(store: Store, site: Path, settings: Settings) -> None:
    """Refuse another zone or broadcast day than archived rows were read with, where their exports cannot be read again.

    Raises:
        SiteError: so it is.
    """
    away = [file for file in archived_files(store) if not (site / file).exists()]
    if not away or not store.has("site_settings"):
        return
    before = store.read("select timezone, day_starts from site_settings").row(0)
    if before != (settings.timezone, settings.day_starts):
        raise SiteError(
            f"{len(away)} archived files were read with timezone {before[0]} and day_starts {before[1]}, and are no"
            f" longer in the folder, such as {min(away)}. Put these keys of site.toml back, or the exports."
        )


def forget_archived(store: Store, file: str) -> None:
    """Have no archived row of ``file`` count any more."""
    if store.has(FILES):
        store.run(f"delete from {FILES} where file = ?", [file])
