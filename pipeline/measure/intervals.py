"""Sets of time as sorted, disjoint stretches: joined, intersected and measured in whole microseconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

Edges = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Stretches:
    """Half-open stretches [begins, stops), in order and apart; microseconds since 1970."""

    begins: Edges
    stops: Edges

    @property
    def length_us(self) -> int:
        """How long they are together."""
        return int((self.stops - self.begins).sum())

    def widened(self, by_us: int) -> Stretches:
        """Each stretch longer by ``by_us`` at both ends, those that then touch joined."""
        return joined(self.begins - by_us, self.stops + by_us)

    def common(self, other: Stretches) -> Stretches:
        """What lies in both."""
        first = np.searchsorted(other.stops, self.begins, side="right")
        after = np.searchsorted(other.begins, self.stops, side="left")
        counts = np.maximum(after - first, 0)
        mine = np.repeat(np.arange(self.begins.size), counts)
        theirs = np.arange(counts.sum()) - np.repeat(counts.cumsum() - counts, counts) + np.repeat(first, counts)
        begins = np.maximum(self.begins[mine], other.begins[theirs])
        stops = np.minimum(self.stops[mine], other.stops[theirs])
        return Stretches(begins, stops)

    def ends_by(self, at_us: int) -> bool:
        """Whether some stretch reaches up to the instant: it holds the moment just before."""
        place = int(np.searchsorted(self.begins, at_us, side="left")) - 1
        return place >= 0 and bool(self.stops[place] >= at_us)

    def holds(self, at_us: int) -> bool:
        """Whether the instant lies in one."""
        place = int(np.searchsorted(self.begins, at_us, side="right")) - 1
        return place >= 0 and bool(self.stops[place] > at_us)


def joined(begins: Edges, stops: Edges) -> Stretches:
    """Any stretches as sorted disjoint ones: overlapping and touching ones are one, those without length are gone."""
    lasting = stops > begins
    begins, stops = begins[lasting], stops[lasting]
    order = np.argsort(begins, kind="stable")
    begins, reach = begins[order], np.maximum.accumulate(stops[order]) if stops.size else stops
    is_first = np.ones(begins.size, dtype=bool)
    is_first[1:] = begins[1:] > reach[:-1]
    return Stretches(begins[is_first], reach[np.roll(is_first, -1)])


def stretches_of(frame: pl.DataFrame) -> Stretches:
    """The rows of ``frame`` (started_at_utc, ended_at_utc; naive UTC) as stretches."""
    begins, stops = (
        frame[name].cast(pl.Datetime("us")).to_physical().to_numpy() for name in ("started_at_utc", "ended_at_utc")
    )
    return joined(begins, stops)
