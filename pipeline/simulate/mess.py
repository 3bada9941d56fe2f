"""What real files hold beside good rows: rows that come again, that nobody can read, that stand in another order.

None of it takes a good row away, so the truth stays as it is. A third of the share goes to each kind. What happens to a
row hangs on its own instant only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline.simulate.draws import Draw, Ints
from pipeline.simulate.parameters import DAY_S, SECOND, Parameters

AGAIN_US, LATER_US = 2 * SECOND, 30 * SECOND  # how far down the copy, or the row itself, stands
OVERLAP_US = 600 * SECOND  # a messy room's files begin with the last ten minutes of the file before
UNKNOWN_EVENT = "rol1"


@dataclass(frozen=True)
class Fates:
    """Which rows come again, which have an unreadable row beside them, which stand further down."""

    again: npt.NDArray[np.bool_]
    spoilt: npt.NDArray[np.bool_]
    later: npt.NDArray[np.bool_]


def row_fates(parameters: Parameters, feed: int, at: Ints) -> Fates:
    """The fates of the rows of a feed or machine by their instants; nothing moves from one day to the next."""
    share = parameters.mess / 3
    drawn = Draw.of(parameters.seed, 7, feed).uniform(at)
    day_us = DAY_S * SECOND
    left = day_us - (at - parameters.started_us) % day_us
    return Fates(
        (drawn < share) & (left > AGAIN_US),
        (drawn >= share) & (drawn < 2 * share),
        (drawn >= 2 * share) & (drawn < 3 * share) & (left > LATER_US),
    )


@dataclass(frozen=True)
class Messed:
    """Lines with a ``place`` to sort by and their text, and how many of them are copies and unreadable."""

    lines: pl.DataFrame
    repeats: int
    set_aside: int


def mess_lines(lines: pl.DataFrame, fates: Fates) -> Messed:
    """``lines`` (place, at, text) with what their fates add; a spoilt row has no time or no known event."""
    again, spoilt, later = (pl.Series(chosen, dtype=pl.Boolean) for chosen in (fates.again, fates.spoilt, fates.later))
    moved = lines.with_columns(place=pl.when(later).then(pl.col("place") + LATER_US).otherwise("place"))
    copies = lines.filter(again).with_columns(pl.col("place") + AGAIN_US)
    beside = lines.filter(spoilt).with_columns(text=_spoilt())
    every = pl.concat([moved, copies, beside]).sort("place", maintain_order=True)
    return Messed(every, copies.height, beside.height)


def _spoilt() -> pl.Expr:
    """Half of them with a time nobody can read, half with an event nobody knows; no two are alike."""
    untimed = pl.lit("abt ") + pl.col("text")
    unknown = pl.col("text").str.replace(r"^([^,]*,[^,]*),[a-z_]+", "$1," + UNKNOWN_EVENT)
    return pl.when(pl.col("at") // 4 % 2 == 0).then(untimed).otherwise(unknown)


@dataclass(frozen=True)
class MessedFeed:
    """A small feed's rows, and how many of them are copies and set aside."""

    rows: pl.DataFrame
    repeats: int
    set_aside: int


def mess_feed(rows: pl.DataFrame, fates: Fates, time: str) -> MessedFeed:
    """``rows`` of text with what their fates add; a spoilt row stands before the good one, its ``time`` unreadable."""
    again, spoilt, later = (pl.Series(chosen, dtype=pl.Boolean) for chosen in (fates.again, fates.spoilt, fates.later))
    placed = rows.with_row_index("place").with_columns(pl.col("place") * 4)
    moved = placed.with_columns(pl.when(later).then(pl.col("place") + 6).otherwise("place"))
    copies = placed.filter(again).with_columns(pl.col("place") + 5)
    before = placed.filter(spoilt).with_columns(pl.concat_str(pl.lit("abt "), time).alias(time))
    every = pl.concat([before, moved, copies]).sort("place", maintain_order=True)
    return MessedFeed(every.drop("place"), copies.height, before.height)
