"""Notes what syslog senders say of themselves: a number left out is a lost line, a clock may be unsynchronised.

RFC 5424 section 7.3.1 has the originator number its messages from 1 to 2147483647 and begin again at 1. It leaves open
whether a host or each of its applications is the originator, and both are found. So both counts are followed: a host
whose lines go on counting where the application changes counts as a whole, any other application by application.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import polars as pl

from pipeline.ingest.batch import FINDING_SCHEMA

NUMBER, IS_SYNCED, TZ_KNOWN = "meta.sequenceId", "timeQuality.isSynced", "timeQuality.tzKnown"
LAST_NUMBER = 2_147_483_647
SENDER = ("host", "app")
KEPT_SENDERS = 100_000  # bounds what is carried on; those silent for longest are forgotten
LONGEST_NAME = 60
WHO = {"line": pl.Int64(), "host": pl.String(), "app": pl.String()}
NUMBERED = pl.Schema(WHO | {"number": pl.Int64(), "score": pl.Int64()})
SAID = pl.Schema(WHO | {"said": pl.Int64()})
UNSYNCED, ZONELESS = 1, 2
SAYINGS = {
    UNSYNCED: "its clock is not synchronised",
    ZONELESS: "it does not know its time zone",
    UNSYNCED + ZONELESS: "its clock is not synchronised and it does not know its time zone",
}


@dataclass(frozen=True)
class Senders:
    """What each sender said last: its number, and what is amiss with its clock; a row a host and app, in line order.

    ``score`` counts the changes of app up to that row at which only the app's own count went on, less those at which
    only the host's did. ``said`` sums 1 for a clock that is not synchronised and 2 for a zone that is not known.
    """

    numbered: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=NUMBERED))
    said: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=SAID))


def find_in(messages: pl.DataFrame, before: Senders) -> tuple[pl.DataFrame, Senders]:
    """The findings of ``messages``, and what their senders said last.

    ``messages`` has ``line``, ``host``, ``app`` and, where any line has them, the parameters as columns. A number that
    is none, or the same again, is passed over; after a lower one nothing is missing. A line that does not speak of its
    clock changes nothing.
    """
    found = [pl.DataFrame(schema=FINDING_SCHEMA)]
    numbered, said = before.numbered, before.said
    if NUMBER in messages.columns:
        judged = _with_last_numbers(_of(messages, _number()), before.numbered)
        found += [_gaps(judged), _restarts(judged)]
        numbered = _carried(judged, NUMBERED)
    if IS_SYNCED in messages.columns or TZ_KNOWN in messages.columns:
        judged = _with_last_sayings(_of(messages, _said(messages.columns)), before.said)
        found.append(_unsynced(judged))
        said = _carried(judged, SAID)
    return pl.concat(found).sort("line", maintain_order=True), Senders(numbered, said)


def _of(messages: pl.DataFrame, value: pl.Expr) -> pl.DataFrame:
    names = (pl.col(name).fill_null("") for name in SENDER)
    return messages.select("line", *names, value).filter(pl.nth(-1).is_not_null())


def _number() -> pl.Expr:
    number = pl.when(pl.col(NUMBER).str.contains("^[0-9]{1,10}$")).then(NUMBER).cast(pl.Int64)
    return pl.when(number <= LAST_NUMBER).then(number).alias("number")


def _said(columns: list[str]) -> pl.Expr:
    weights = {name: weight for name, weight in ((IS_SYNCED, UNSYNCED), (TZ_KNOWN, ZONELESS)) if name in columns}
    speaks = pl.any_horizontal(pl.col(name).is_not_null() for name in weights)
    said = pl.sum_horizontal((pl.col(name) == "0").cast(pl.Int64) * weight for name, weight in weights.items())
    return pl.when(speaks).then(said).alias("said")


def _carried(judged: pl.DataFrame, schema: pl.Schema) -> pl.DataFrame:
    last = judged.group_by(SENDER, maintain_order=True).last().sort("line").tail(KEPT_SENDERS)
    return last.select(schema.names())


def _with_last_numbers(fresh: pl.DataFrame, before: pl.DataFrame) -> pl.DataFrame:
    """Numbers with the ``last`` of the same sender, and ``is_host``: whether the sender is the host as a whole."""
    of_app, of_host = (pl.col("number").shift(1).over(by) for by in (SENDER, "host"))
    is_other_app = pl.col("app") != pl.col("app").shift(1).over("host")
    is_latest = pl.col("line") == pl.col("line").max().over("host")
    carried = before.with_columns(pl.when(is_latest).then("score").otherwise(0).alias("evidence"), is_fresh=False)
    both = pl.concat([carried.drop("score"), fresh.with_columns(evidence=pl.lit(0, pl.Int64), is_fresh=True)])
    both = both.with_columns(of_app.alias("of_app"), of_host.alias("of_host"), is_other_app.alias("is_other_app"))
    evidence = pl.when("is_fresh", "is_other_app").then(_goes_on("of_app") - _goes_on("of_host")).otherwise("evidence")
    both = both.with_columns(evidence.cum_sum().over("host").alias("score"))
    is_host = pl.col("score") < 0
    return both.with_columns(
        is_host.alias("is_host"), pl.when(is_host).then("of_host").otherwise("of_app").alias("last")
    )


def _goes_on(last: str) -> pl.Expr:
    is_next = (pl.col("number") == pl.col(last) + 1) | _is_wrapped(last)
    return is_next.fill_null(value=False).cast(pl.Int64)


def _is_wrapped(last: str) -> pl.Expr:
    return (pl.col(last) == LAST_NUMBER) & (pl.col("number") == 1)


def _gaps(judged: pl.DataFrame) -> pl.DataFrame:
    missing = pl.col("number") - pl.col("last") - 1
    found = judged.filter("is_fresh", missing > 0).with_columns(missing.alias("missing"))
    one, several = pl.lit(" line of this sender is missing."), pl.lit(" lines of this sender are missing.")
    tail = pl.when(pl.col("missing") == 1).then(one).otherwise(several)
    what = pl.format("{} numbered {}, then {}: {}{}", _name(), "last", "number", "missing", tail)
    return _findings(found, "gap", what)


def _restarts(judged: pl.DataFrame) -> pl.DataFrame:
    found = judged.filter("is_fresh", pl.col("number") < pl.col("last"), ~_is_wrapped("last"))
    what = pl.format("{} numbered {}, then {}: its count restarted.", _name(), "last", "number")
    return _findings(found, "restart", what)


def _with_last_sayings(fresh: pl.DataFrame, before: pl.DataFrame) -> pl.DataFrame:
    both = pl.concat([before.with_columns(is_fresh=False), fresh.with_columns(is_fresh=True)])
    return both.with_columns(pl.col("said").shift(1).over(SENDER).alias("last"), is_host=False)


def _unsynced(judged: pl.DataFrame) -> pl.DataFrame:
    found = judged.filter("is_fresh", pl.col("said") > 0, pl.col("said").ne_missing(pl.col("last")))
    saying = pl.col("said").replace_strict(SAYINGS, return_dtype=pl.String)
    return _findings(found, "unsynchronised", pl.format("{} says that {} from here on.", _name(), saying))


def _findings(found: pl.DataFrame, kind: str, what: pl.Expr) -> pl.DataFrame:
    return found.select("line", pl.lit(kind).alias("kind"), what.alias("what"))


def _name() -> pl.Expr:
    """The sender's name: the host, with its app unless the host counts as a whole."""
    host, app = (_short(pl.col(name)) for name in SENDER)
    both = pl.when("is_host").then(host).otherwise(pl.concat_str(host, pl.lit(" "), app).str.strip_chars())
    return pl.when(both != "").then(both).otherwise(pl.lit("A sender without a name"))


def _short(name: pl.Expr) -> pl.Expr:
    return pl.when(name.str.len_chars() > LONGEST_NAME).then(name.str.head(LONGEST_NAME) + "…").otherwise(name)
