"""What a proposal says of the rows it would keep is what reading the file by it keeps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.ingest.batch import Batch
from pipeline.ingest.find import FoundFile
from pipeline.ingest.mapping.feed_tables import FeedTable, SiteFeeds
from pipeline.ingest.mapping.mapping import check_mapped, map_batch
from pipeline.ingest.propose import propose_table
from pipeline.ingest.propose.forms import recognise_form
from pipeline.ingest.readers import read_batches
from pipeline.ingest.rows import type_rows
from pipeline.ingest.timekeeping import reading_of, with_date_order
from pipeline.ingest.times.reading import Carry
from pipeline.settings import read_settings
from tests.ingest.propose.exports import EXPORTS, Export
from tests.ingest.propose.reading_back import accepted

VARYING = ("jsonl", "syslog", "calendar")


def _mapped(found: FoundFile, table: FeedTable) -> Iterator[Batch]:
    for batch in read_batches(found):
        if batch.headers and found.format not in VARYING:
            check_mapped(found.file, batch.headers, table.mapping)
        yield map_batch(batch, table.feed, table.mapping, decimal=table.decimal, thousands=table.thousands)


def _loaded(path: Path, feeds: SiteFeeds, site: Path) -> tuple[int, int]:
    """Rows read, and rows kept, as the program loads the file."""
    (table,) = feeds.tables
    form = recognise_form(path, path.name)
    found = FoundFile(path, path.name, table.feed, table.format, form.packing, form.member, table)
    reading = reading_of(found, read_settings(site), feeds)
    if not reading.date_order:
        reading = with_date_order(found, reading, _mapped(found, table))
    carries = {column.name: Carry() for column in table.feed.columns if column.kind == "time"}
    typed = [type_rows(table.feed, batch, reading, carries) for batch in _mapped(found, table)]
    return sum(kept.height + aside.height for kept, aside in typed), sum(kept.height for kept, _ in typed)


@pytest.mark.parametrize(
    "export", [each for each in EXPORTS if each.kind and "date_order" not in each.undecided], ids=lambda each: each.name
)
def test_the_rows_said_to_be_kept_are_kept(export: Export, tmp_path: Path) -> None:
    path = tmp_path / export.name
    export.write(path)
    proposal = propose_table(path)
    feeds = accepted(proposal.text, tmp_path / "site")
    told = re.search(r"Tried on ([0-9,]+) rows: ([0-9,]+) would be kept", proposal.text)
    assert told is not None
    assert (int(told[1]), int(told[2])) == _loaded(path, feeds, tmp_path / "site")
