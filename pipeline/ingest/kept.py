"""Takes the rows of the database as they are, where a person wants figures from them and not from the folder."""

from __future__ import annotations

from pipeline.errors import StoreError
from pipeline.ingest.ledger import LEDGER_NAMES, check_arrivals, read_ledger
from pipeline.ingest.site import write_derived
from pipeline.results import FileLoad, LoadResult
from pipeline.settings import Settings
from pipeline.store import Store


def keep_rows(settings: Settings, store: Store) -> LoadResult:
    """Leave every loaded row as it is, whatever lies in the folder, and make anew what is derived from rows alone.

    To be called inside a transaction. Writes what `load_site` writes when anything changed, but for the rows and the
    history of loads.

    Raises:
        StoreError: the database holds no rows, or not all that were read.
    """
    if not LEDGER_NAMES.issubset(store.columns("source_files")):
        raise StoreError(f"{store.path} holds no rows. Run airhours run first, with the exports in the folder.")
    check_arrivals(store)
    write_derived(store, settings)
    kept = (
        FileLoad(entry.file, entry.feed, entry.sha256, "unchanged", entry.read_count)
        for entry in read_ledger(store).values()
    )
    return LoadResult(tuple(kept), True, ())
