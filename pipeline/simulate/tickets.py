"""Fault tickets: most interruptions have one, written soon enough that it cannot be taken for another's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.simulate.draws import Draw
from pipeline.simulate.parameters import SECOND, Parameters

WRITTEN = 0.8  # share of interruptions with a ticket
SOONEST_S, LATEST_S = 300, 900  # after the onset: nearer to it than to any other fault of the machine
RESTORED, CLOSED = 0.8, 0.9  # up to here restored, up to there closed without saying when, the rest open
SYMPTOMS = ("no picture on air", "no sound on air", "picture broke up", "fell out of lock", "banding")
CAUSES = ("heads", "servo", "patch", "tape", "")
ACTIONS = ("heads cleaned", "servo adjusted", "patch cord changed", "reel changed", "looked, nothing found")


@dataclass(frozen=True)
class Ticketed:
    """The tickets as rows, instants in microseconds, and the times to service that follow from them."""

    tickets: pl.DataFrame
    times: pl.DataFrame


def write_tickets(parameters: Parameters, counts: pl.DataFrame, as_of: int) -> Ticketed:
    """A ticket for most interruptions; one still open is cut short at ``as_of``."""
    events = counts.filter(pl.col("what") == "interruptions").sort("at", "channel")
    draw = Draw.of(parameters.seed, 5)
    events = events.filter(pl.Series(draw.uniform(events["at"].to_numpy()) < WRITTEN, dtype=pl.Boolean))
    key = events["at"].to_numpy()
    opened = key // SECOND * SECOND + SECOND * draw.whole(key, SOONEST_S, LATEST_S - 1)
    restored = opened + 60 * SECOND * draw.whole(key, 20, 48 * 60)
    closed = restored + 60 * SECOND * draw.whole(key, 0, 24 * 60)
    fate = draw.uniform(key)
    is_restored, is_open = fate < RESTORED, fate >= CLOSED
    until = np.where(is_restored, restored, np.where(is_open, np.maximum(as_of, opened), closed))
    tickets = pl.DataFrame(
        {
            "number": np.arange(1, events.height + 1),
            "machine": events["machine"],
            "opened": opened,
            "restored": pl.Series(restored, dtype=pl.Int64).set(pl.Series(~is_restored, dtype=pl.Boolean), None),
            "closed": pl.Series(closed, dtype=pl.Int64).set(pl.Series(is_open, dtype=pl.Boolean), None),
            "symptom": pl.Series(draw.word(key, SYMPTOMS), dtype=pl.String),
            "cause": pl.Series(draw.word(key, CAUSES), dtype=pl.String),
            "action": pl.Series(draw.word(key, ACTIONS), dtype=pl.String),
        }
    )
    times = events.select("channel", "machine", pl.lit("to_service").alias("time"), "at").with_columns(
        pl.Series("length", until - opened, dtype=pl.Int64), pl.Series("seen", is_restored, dtype=pl.Boolean)
    )
    return Ticketed(tickets, times)
