"""Whether the parts of an archive (pipeline/keeping/archiving.py) are there and whole, asked before they are read."""

from __future__ import annotations

from pipeline.digests import digest_file
from pipeline.errors import StoreError
from pipeline.store import Store

PARTS = "archived_parts"


def require_whole(store: Store, *, is_thorough: bool = False) -> None:
    """Refuse a database of which a part of the archive is missing or has another size, or, if thorough, other bytes.

    Raises:
        StoreError: which part.
    """
    if not store.has(PARTS):
        return
    for part, size_bytes, sha256 in store.read(
        f"select part, size_bytes, sha256 from {PARTS} order by all"
    ).iter_rows():
        path = store.path.parent / part
        if not path.is_file():
            raise StoreError(f"{path}, a part of the archive, is missing. Put it back from a copy of the site folder.")
        if path.stat().st_size != size_bytes or (is_thorough and digest_file(path) != sha256):
            raise StoreError(f"{path}, a part of the archive, is damaged. Put it back from a copy of the site folder.")
