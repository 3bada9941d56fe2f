"""Machines that changed their number, and reel numbers that lost their zeros: one name again, the written one kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import polars as pl

from pipeline.errors import SiteError, refuse_unknown, wrong_setting
from pipeline.ingest.calendar import day_start
from pipeline.ingest.feeds import EVENTS, Feed
from pipeline.settings import FILE, Settings

WHERE = f"{FILE}, [[renumbered]]"
KEYS = ("was", "is", "from", "to")
# By feed: the instant that tells which number a row means, and the columns that hold one.
MACHINE_COLUMNS = {
    "events": ("stamped_at_utc", ("machine",)),
    "switches": ("at_utc", ("from_machine", "to_machine")),
    "tickets": ("opened_at_utc", ("machine",)),
    "bookings": ("started_at_utc", ("machine",)),
    "reels": ("recorded_at_utc", ("recorded_on",)),
}
REEL_FEEDS = ("tickets", "bookings", "reels")


@dataclass(frozen=True)
class Renumbered:
    """A machine written ``was`` is the machine ``is_now``, in rows from ``started`` up to ``ended``, naive UTC."""

    was: str
    is_now: str
    started: datetime | None
    ended: datetime | None


def read_renumbered(given: Any, settings: Settings) -> tuple[Renumbered, ...]:
    """The [[renumbered]] tables; ``from`` and ``to`` are broadcast days, half-open.

    Raises:
        SiteError: a key or value that is not allowed.
    """
    if not isinstance(given, list) or not all(isinstance(each, dict) for each in given):
        raise SiteError(f'{FILE}: "renumbered" is no list of tables. Begin each with a line [[renumbered]].')
    return tuple(_read_one(each, settings) for each in given)


def _read_one(values: dict[str, Any], settings: Settings) -> Renumbered:
    refuse_unknown(values, KEYS, WHERE)
    for key in ("was", "is"):
        if not isinstance(values.get(key), str) or not values[key].strip():
            raise wrong_setting(WHERE, key, values.get(key, ""), "a machine's number as a text")
    for key in ("from", "to"):
        value = values.get(key)
        if value is not None and (not isinstance(value, date) or isinstance(value, datetime)):
            raise wrong_setting(WHERE, key, value, "a date such as 2031-03-09, without quotes")
    started, ended = (day_start(values[key], settings) if key in values else None for key in ("from", "to"))
    if started and ended and ended <= started:
        raise wrong_setting(WHERE, "to", values["to"], f"a date after {values['from']}")
    return Renumbered(values["was"].strip(), values["is"].strip(), started, ended)


def renumber(feed: Feed, kept: pl.DataFrame, rules: Iterable[Renumbered]) -> pl.DataFrame:
    """``kept`` with machines by the number they have now; the number as written goes to ``extra``.

    The partner that the detail of an ``offset`` names is a machine too. The first rule that fits a row
    decides. A row without its instant is renumbered only by rules without dates.
    """
    at, columns = MACHINE_COLUMNS.get(feed.name, ("", ()))
    chosen = tuple(rules)
    for column in columns if chosen else ():
        kept = _replaced(kept, column, _now(chosen, column, at))
    if chosen and feed.name == EVENTS.name:
        kept = _replaced(kept, "detail", pl.when(pl.col("event") == "offset").then(_now(chosen, "detail", at)))
    return kept


def normal_reels(feed: Feed, kept: pl.DataFrame) -> pl.DataFrame:
    """``kept`` with reel numbers in one spelling: O among digits is 0, zeros in front of a number are dropped.

    A letter O beside another letter stands: ``TO-12`` keeps it, ``R-0O17`` becomes ``R-17``. Numbers as written go to
    ``extra``. Rows of other feeds are left as they are.
    """
    if feed.name not in REEL_FEEDS:
        return kept
    reel = pl.col("reel")
    digits = reel.str.extract_all(r"[0-9A-Za-z]+|[^0-9A-Za-z]+").list.eval(_normal_piece(pl.element())).list.join("")
    return _replaced(kept, "reel", pl.when(digits != reel).then(digits))


def _normal_piece(piece: pl.Expr) -> pl.Expr:
    """One word or number of a reel number: R0017 too has its digits in one spelling."""
    is_number = piece.str.contains(r"^[0-9Oo]*[0-9][0-9Oo]*$")
    number = pl.when(is_number).then(piece.str.replace_all("[Oo]", "0")).otherwise(piece)
    return number.str.replace(r"^([A-Za-z]*)0+([0-9])", "${1}${2}")


def _now(rules: Iterable[Renumbered], column: str, at: str) -> pl.Expr:
    return pl.coalesce(*(pl.when(_fits(rule, column, at)).then(pl.lit(rule.is_now)) for rule in rules))


def _fits(rule: Renumbered, column: str, at: str) -> pl.Expr:
    fits = pl.col(column) == rule.was
    if rule.started is not None:
        fits &= pl.col(at) >= rule.started
    if rule.ended is not None:
        fits &= pl.col(at) < rule.ended
    return fits.fill_null(value=False)


def _replaced(kept: pl.DataFrame, column: str, new: pl.Expr) -> pl.DataFrame:
    """``kept`` with ``new`` where it is not null, and the old value as JSON in ``extra``."""
    key = f"{column} as written"
    pair = pl.struct(pl.col(column).alias(key)).struct.json_encode()
    rest = pl.col("extra").str.slice(1)
    noted = (
        pl.when(pl.col("extra").is_null())
        .then(pair)
        .otherwise(pl.concat_str(pair.str.strip_suffix("}"), pl.lit(","), rest))
    )
    is_new = pl.col("new").is_not_null()
    return (
        kept.with_columns(new.alias("new"))
        .with_columns(
            pl.when(is_new).then(noted).otherwise(pl.col("extra")).alias("extra"),
            pl.when(is_new).then(pl.col("new")).otherwise(pl.col(column)).alias(column),
        )
        .drop("new")
    )
