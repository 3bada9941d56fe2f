"""Files in the program's own columns, words and times, for which no table is needed."""

from __future__ import annotations

import re

from pipeline.ingest.feeds import Feed
from pipeline.ingest.find import FoundFile
from pipeline.ingest.propose.look import UTC, Look
from pipeline.ingest.rows import type_rows

PLAIN_FORMATS = ("csv", "jsonl", "parquet")
PLAIN_KEYS = {"delimiter": '","', "encoding": '"utf-8"'}
FOREIGN_KEYS = ("header_row", "quote", "sheet")
LEAST_KEPT = 0.5


def is_canonical(found: FoundFile, look: Look, feed: Feed) -> bool:
    """Whether the file is read without a table: as the contract has it, and most of its rows can be kept."""
    if found.format not in PLAIN_FORMATS or not set(feed.required) <= set(look.sample.batch.headers):
        return False
    if look.sample.empty:
        return False
    said = {setting.key: setting.value for setting in look.findings.settings}
    if any(key in said for key in FOREIGN_KEYS) or any(
        said.get(key, plain) != plain for key, plain in PLAIN_KEYS.items()
    ):
        return False
    kept, _ = type_rows(feed, look.sample.batch, UTC)
    return kept.height >= LEAST_KEPT * max(1, look.sample.batch.rows.height)


def is_found_by_name(file: str, feed: Feed) -> bool:
    """Whether a file of that name within the site is found without a table."""
    folder, _, name = file.rpartition("/")
    if folder == feed.name:
        return True
    return not folder and re.match(rf"{feed.name}[.-]", name) is not None
