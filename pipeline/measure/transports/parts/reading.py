"""The lives of heads and parts as plain rows: how long each was in, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.measure.transports.parts.tickets import choose_tickets, ticket_offers
from pipeline.settings import Settings
from pipeline.store import Store

FAILED, TAKEN_OUT, RUNNING = "failed", "taken out", "running"
LIVES = "select * from core_part_lives order by kind, machine, started_at_utc"
FITTINGS = "select count(*) from core_words where event in ('head_fitted', 'part_fitted')"
LIFE_SCHEMA: dict[str, Any] = {
    "machine": pl.String, "kind": pl.String, "detail": pl.String, "was_fitted_before": pl.Boolean,
    "started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us"), "ended_by": pl.String, "how": pl.String,
    "ticket": pl.String, "words": pl.String, "is_unclear": pl.Boolean, "life_h": pl.Float64,
    "in_place_days": pl.Float64,
}  # fmt: skip


@dataclass(frozen=True)
class PartLives:
    """``lives``: one row a life, columns ``LIFE_SCHEMA``; ``how`` is failed, taken out or running.

    ``life_h`` is head hours: time the machine rolled with it; ``in_place_days`` calendar days of 24 h. ``is_unclear``:
    taken out, and a ticket opened on the machine just before names something else.
    ``nameless_count``: fittings that make no life, because they name no kind or another of the kind went in at once.
    """

    lives: pl.DataFrame
    nameless_count: int


def read_part_lives(store: Store, settings: Settings) -> PartLives:
    """The lives of ``core_part_lives``, each with how it ended and the ticket that says so; nothing is written.

    A life ended by the next fitting of its kind is *failed* where a ticket names it (``naming_words``). Without one
    it is *taken out*, as are a head whose serial was fitted elsewhere and what was in a machine that was retired.
    """
    offers = ticket_offers(store, settings)
    tickets = choose_tickets(offers)
    offered = {(offer["machine"], offer["kind"], offer["started_at_utc"]) for offer in offers}
    rows = []
    for life in store.read(LIVES).iter_rows(named=True):
        key = (life["machine"], life["kind"], life["started_at_utc"])
        ticket, words = tickets.get(key, (None, None))
        how = RUNNING if life["ended_by"] == "running" else TAKEN_OUT if ticket is None else FAILED
        hours = {"life_h": life["rolled_s"] / 3600.0, "in_place_days": life["in_place_s"] / 86_400.0}
        told = {"how": how, "ticket": ticket, "words": words, "is_unclear": how == TAKEN_OUT and key in offered}
        row = {**life, **hours, **told}
        rows.append({name: row[name] for name in LIFE_SCHEMA})
    lives = pl.DataFrame(rows, schema=LIFE_SCHEMA, orient="row")
    return PartLives(lives, int(store.value(FITTINGS)) - lives.height)
