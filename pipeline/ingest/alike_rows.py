"""Types the lines that are a stamp and one of a few endings: what follows the stamp once for each ending.

The one line that stands for all of an ending is typed and stored as any other line, so that nothing is said twice of
how a cell is read. Where that line is set aside, or is not stored lean, all of its kind are typed one by one.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field, replace

import numpy as np
import polars as pl

from pipeline.ingest.batch import Batch, all_aside
from pipeline.ingest.event_rows import ENDINGS, OFFSET, lean_rows
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.rows import type_rows
from pipeline.ingest.text.alike import Alike
from pipeline.ingest.times.reading import Reading
from pipeline.ingest.times.same_layout import Whole
from pipeline.ingest.times.stamps import shifts

SAME = ("machine", "event", "value", "detail", "extra", "text_kept", "at_text_kept")
AT, LINE = EVENTS.columns[0].name, "line"


@dataclass(frozen=True)
class _Typed:
    """What the stored rows of each ending share, and its row in ``table``; −1 where it has none."""

    table: pl.DataFrame
    row_of: Whole


@dataclass
class AlikeTyping:
    """Types alike lines read as ``reading`` says. Mutable: what was typed is remembered."""

    reading: Reading
    _known: dict[Hashable, _Typed] = field(default_factory=dict)

    def take(self, batch: Batch) -> tuple[pl.DataFrame | None, Batch]:
        """The batch's alike lines as `event_rows.lean_rows` gives them, and the batch with what is left to be typed.

        Stamps of a day of a clock change are left.
        """
        alike = batch.alike
        if alike is None:
            return None, batch
        if not self.reading.is_iso_only or batch.headers[0] != AT:
            return None, _with_rows(batch, alike, np.arange(alike.lines.size))
        shift_s, is_known = shifts(alike.walls, self.reading.zone)
        if not is_known.any():
            return None, _with_rows(batch, alike, np.arange(alike.lines.size))
        typed = self._typed(batch, alike, int(np.argmax(is_known)))
        rows = np.where(is_known, typed.row_of[alike.ending_at], -1)
        sure, left = np.flatnonzero(rows >= 0), np.flatnonzero(rows < 0)
        lean = _stamped(alike, sure, shift_s[sure]).hstack(typed.table[rows[sure]])
        return (lean if sure.size else None), _with_rows(batch, alike, left)

    def _typed(self, batch: Batch, alike: Alike, line: int) -> _Typed:
        """The endings, typed under the stamp of the line at the place ``line``."""
        walls = alike.walls
        key = (batch.headers, alike.mark, alike.endings, walls.letter, walls.digits, walls.ending)
        if key not in self._known:
            shown = replace(batch, rows=alike.shown(line), aside=all_aside([]), alike=None)
            kept, _ = type_rows(EVENTS, shown, self.reading)
            lean = lean_rows(kept).filter(pl.all_horizontal(pl.col("text_kept", "at_text_kept").is_null()))
            row_of = np.full(len(alike.endings), -1)
            row_of[lean[LINE].to_numpy()] = np.arange(lean.height)
            self._known[key] = _Typed(lean.select(SAME), row_of)
        return self._known[key]


def _stamped(alike: Alike, chosen: Whole, shift_s: Whole) -> pl.DataFrame:
    """The ``chosen`` lines without what follows their stamps."""
    walls = alike.walls
    at = pl.Series(walls.wall_us[chosen] - shift_s * 1_000_000).cast(pl.Datetime("us"))
    frame = pl.DataFrame({LINE: alike.lines[chosen], "stamped_at_utc": at, "east_s": shift_s.astype(np.int32)})
    return frame.with_columns(
        pl.lit(value=False).alias("is_ambiguous"),
        pl.lit(walls.digits, pl.Int8).alias("stamp_digits"),
        pl.lit(ENDINGS.get(walls.ending, OFFSET), pl.Int8).alias("ending"),
    )


def _with_rows(batch: Batch, alike: Alike, chosen: Whole) -> Batch:
    """``batch`` with the ``chosen`` of its alike lines among its rows."""
    rows = batch.rows
    if chosen.size:
        rows = pl.concat([rows, alike.rows(chosen)]).sort(LINE)
    return replace(batch, rows=rows, alike=None)
