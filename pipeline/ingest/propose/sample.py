"""The first rows of a file, read by the reader that will read all of it, so that a proposal rests on what it sees."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO
from itertools import islice

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest.batch import CELLS, Batch, all_aside, cell_name
from pipeline.ingest.find import FoundFile
from pipeline.ingest.propose.phrasebook import phrasebook
from pipeline.ingest.propose.traits import Traits, describe
from pipeline.ingest.text.archives import open_packed
from pipeline.ingest.text.encodings import decoded

SAMPLE_BYTES = 8 << 20
MOST_ROWS = 5_000
LEAST_ROWS = 50
MOST_CELLS = 500_000
MOST_COLUMNS = 300  # looked at; no export of a room has more that matter
CUT_OFF = 100  # lines at the end of a part of a file in which a record may be broken


@dataclass(frozen=True)
class TextStart:
    """The beginning of a text as UTF-8 with LF, cut at a line's end; ``raw`` as the file has it, unpacked."""

    data: bytes
    raw: bytes
    is_whole: bool

    @property
    def lines(self) -> list[str]:
        """Its lines without their ends."""
        return self.data.decode("utf-8", "replace").removeprefix("\ufeff").split("\n")

    def stream(self) -> BytesIO:
        """It as a stream that the readers take."""
        return BytesIO(self.data)


@dataclass(frozen=True)
class Sample:
    """First rows of a file and what its columns look like; ``is_whole`` if these are all rows it has.

    ``empty`` are the cells, in small letters, that say that nothing is recorded, with how many of each there are; they
    are null in ``batch``. ``passed_over`` counts the columns that were not looked at.
    """

    batch: Batch
    columns: tuple[Traits, ...]
    is_whole: bool
    passed_over: int
    empty: tuple[tuple[str, int], ...] = ()


def read_start(found: FoundFile, encoding: str = "") -> TextStart:
    """The first 8 MiB of a text, decoded, and at most 5,000 lines of it.

    Raises:
        FeedError: it cannot be opened or unpacked.
    """
    with open_packed(found.path, found.file, found.packing, found.member) as packed:
        raw = packed.read(SAMPLE_BYTES)
        is_whole = len(raw) < SAMPLE_BYTES
    with decoded(BytesIO(raw), encoding) as stream:
        data = stream.read()
    plain = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    kept = _first_lines(plain, is_whole=is_whole)
    return TextStart(kept, raw, is_whole and len(kept) == len(plain))


def take_sample(batches: Iterable[Batch], file: str, *, is_whole: bool) -> Sample:
    """The first rows of ``batches`` that stand under the headers of the first, and their traits.

    Raises:
        FeedError: there is no header or no row.
    """
    first = next((batch for batch in islice(batches, 50) if batch.headers and batch.read_count), None)
    if first is None:
        raise FeedError(f'"{file}" holds no row that can be read. Expected an export that does.')
    most = max(LEAST_ROWS, min(MOST_ROWS, MOST_CELLS // max(1, len(first.headers))))
    rows, aside = first.rows.head(most), first.aside
    is_cut = rows.height < first.rows.height or not is_whole
    if is_cut and rows.height:  # what is set aside at the end may only be broken because the sample ends there
        aside = aside.filter(pl.col("line") <= int(rows["line"][-1]) - CUT_OFF)
    rows, empty = _without_empty(rows)
    batch = Batch(first.headers, rows, all_aside([aside]), first.findings)
    looked_at = first.headers[:MOST_COLUMNS]
    columns = tuple(describe(header, place, _counts(batch, place)) for place, header in enumerate(looked_at))
    return Sample(batch, columns, not is_cut, len(first.headers) - len(looked_at), empty)


def _without_empty(rows: pl.DataFrame) -> tuple[pl.DataFrame, tuple[tuple[str, int], ...]]:
    """``rows`` with null in the cells that say nothing, and how many there are of each."""
    nothing = phrasebook().says_nothing
    small = CELLS.str.to_lowercase()
    found = [(cell, int(rows.select(pl.sum_horizontal((small == cell).sum())).item() or 0)) for cell in nothing]
    kept = pl.when(~small.is_in(nothing)).then(CELLS).name.keep()
    return rows.with_columns(kept), tuple((cell, count) for cell, count in found if count)


def _counts(batch: Batch, place: int) -> Counter[str]:
    return Counter(batch.rows[cell_name(place)].drop_nulls().to_list())


def _first_lines(plain: bytes, *, is_whole: bool) -> bytes:
    """``plain`` up to the end of line 5,000, or of the last whole line."""
    end = -1
    for _ in range(MOST_ROWS + 1):
        following = plain.find(b"\n", end + 1)
        if following < 0:
            return plain if is_whole or end < 0 else plain[: end + 1]
        end = following
    return plain[: end + 1]
