"""Files to raw tables: every row read is kept or set aside with a reason, and nothing is lost on the way.

The room has one door, `load_site`; beside it stands what a person may ask of the ledger.
"""

from __future__ import annotations

from pipeline.ingest.archived import archived_files, refuse_new_zone
from pipeline.ingest.kept import keep_rows
from pipeline.ingest.ledger import put_back, with_rows_set_aside, withdraw
from pipeline.ingest.site import Progress, load_site

__all__ = [
    "Progress",
    "archived_files",
    "keep_rows",
    "load_site",
    "put_back",
    "refuse_new_zone",
    "with_rows_set_aside",
    "withdraw",
]
