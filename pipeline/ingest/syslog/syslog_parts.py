"""Cuts syslog lines into their parts, RFC 5424 and RFC 3164 alike, all lines of a block at once.

The patterns are matched in time proportional to the line, however it is made: polars has no backtracking.
"""

from __future__ import annotations

import polars as pl

from pipeline.ingest.syslog.syslog_data import BAD_DATA, ELEMENTS

NEW = r"^(?:<[0-9]{1,3}>1 |1 [0-9]{4}-)"
NEW_FIELDS = ("begin", "at", "host", "app", "procid", "msgid", "rest")
NEW_TIME = (
    r"^[0-9]{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])T(?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]"
    r"(?:\.[0-9]{1,6})?(?:Z|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])$"
)
OLD_TIME = (
    r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) [ 0-3]?[0-9] (?:[0-9]{4} )?[0-9]{2}:[0-9]{2}:[0-9]{2}"
    r"(?:\.[0-9]+)?"
)
ISO_TIME = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(?:[.,][0-9]+)?(?:Z|[+-][0-9]{2}:?[0-9]{2})?"
# A first word that ends in a colon or has brackets in it is the tag of a line without a host; 2001:db8:: is a host.
HOST = r"(?:(\[?[^ \[]*(?:[^ :\[]|::))(?: |$))?"
# A word with neither colon nor brackets is text: nothing tells it from an app whose daemon writes no colon after it.
TAG = r"(?:([^ \[\]]+)\[([^ \[\]]*)\](?::| |$)|([^ \[\]]+):(?: |$))?"
OLD = rf"^(?:<([0-9]{{1,3}})> ?)?(?:({OLD_TIME}|{ISO_TIME}):? {HOST})?{TAG}(.*)$"
OLD_FIELDS = ("priority", "at", "host", "app", "procid", "app_alone", "msg")
COUNTED = r"^[1-9][0-9]{0,8} <[0-9]{1,3}>"
HEAD = ("line", "text", "priority", "at", "host", "app", "procid", "msgid", "data", "msg", "reason")
LONGEST_QUOTE = 60
HIGHEST_PRIORITY = 191

NO_MESSAGE = (
    'The line is no syslog message. Expected one that begins with a time, such as "Mar  9 21:04:11 host app: text", '
    'or as RFC 5424 has it, "<13>1 2031-03-09T21:04:11+01:00 host app - - - text".'
)
BROKEN_OFF = (
    "The line begins as RFC 5424 has it, but breaks off. Expected time, host, app, process, message id and structured "
    "data, each - where there is none."
)
BAD_TIME = (
    " is not a time as RFC 5424 has it. Expected one such as 2031-03-09T21:04:11.123456+01:00, with T and Z in "
    "capitals, a zone, and at most 6 digits after the point."
)
BAD_PRIORITY = '"<{}>" is no priority. Expected <0> to <191>.'
BAD_COUNT = "The line says that {} octets follow, but {} do. Expected one whole message a line."


def read_heads(lines: pl.DataFrame) -> pl.DataFrame:
    """The parts of each line of ``lines`` (``line``, ``text``), in its order.

    Adds ``priority`` (Int64), ``at``, ``host``, ``app``, ``procid``, ``msgid``, ``data`` (the structured data as
    written) and ``msg``, null where the line has none, and ``reason`` where it cannot be read.
    """
    bodies = lines.with_columns(pl.col("text").alias("body"), pl.lit(None, pl.String).alias("reason"))
    if lines["text"].str.contains(COUNTED).any():
        bodies = _without_counts(bodies)
    is_new = bodies["body"].str.contains(NEW)
    new, old = _read_new(bodies.filter(is_new)), _read_old(bodies.filter(~is_new))
    both = pl.concat([new, old]).sort("line") if new.height and old.height else new if new.height else old
    return _checked(both)


def _without_counts(bodies: pl.DataFrame) -> pl.DataFrame:
    """Bodies without the count of octets that RFC 6587 section 3.4.1 puts before a message; line ends may be in it."""
    count = pl.when(pl.col("text").str.contains(COUNTED)).then(pl.col("text").str.extract("^([0-9]+)", 1))
    follow = pl.col("text").str.len_bytes().cast(pl.Int64) - count.str.len_bytes().cast(pl.Int64) - 1
    fits = (count.cast(pl.Int64) - follow).is_between(0, 2)
    return bodies.with_columns(
        pl.when(fits).then(pl.col("text").str.replace("^[0-9]+ ", "")).otherwise("body").alias("body"),
        pl.when(~fits).then(pl.format(BAD_COUNT, count, follow)).alias("reason"),
    )


def _read_new(bodies: pl.DataFrame) -> pl.DataFrame:
    """The parts of lines that begin as RFC 5424 section 6 has it."""
    cut = pl.col("body").str.splitn(" ", len(NEW_FIELDS)).struct.rename_fields(NEW_FIELDS)
    frame = bodies.with_columns(cut.alias("cut")).unnest("cut")
    frame = frame.with_columns(pl.col("rest").str.extract(ELEMENTS, 1).alias("data"))
    frame = frame.with_columns(pl.col("rest").str.strip_prefix(pl.col("data")).alias("msg"))
    is_short = pl.any_horizontal(pl.col(name).fill_null("") == "" for name in NEW_FIELDS)
    has_time = (pl.col("at") == "-") | (pl.col("at").str.contains(NEW_TIME) & _is_day(pl.col("at")))
    has_data = pl.col("data").is_not_null() & pl.col("msg").str.contains("^(?: |$)")
    reason = (
        pl.when(is_short)
        .then(pl.lit(BROKEN_OFF))
        .when(~has_time)
        .then(_quoted(pl.col("at")) + BAD_TIME)
        .when(~has_data)
        .then(pl.lit(BAD_DATA))
    )
    priority = pl.col("begin").str.extract("^<([0-9]+)>", 1).alias("priority")
    return frame.with_columns(priority, pl.coalesce("reason", reason).alias("reason")).select(HEAD)


def _is_day(stamp: pl.Expr) -> pl.Expr:
    return stamp.str.head(10).str.to_date("%Y-%m-%d", strict=False).is_not_null()


def _read_old(bodies: pl.DataFrame) -> pl.DataFrame:
    """The parts of lines as RFC 3164 section 4 has them, or as its daemons write them: with an ISO 8601 time, without a
    priority. Without both a time and a priority it is no message; with a priority alone it has no time.
    """
    cut = pl.col("body").str.extract_groups(OLD).struct.rename_fields(OLD_FIELDS)
    frame = bodies.with_columns(cut.alias("cut")).unnest("cut")
    is_message = pl.any_horizontal(pl.col("priority", "at").is_not_null())
    nothing = pl.lit(None, pl.String)
    return frame.with_columns(
        pl.coalesce("app", "app_alone").alias("app"),
        nothing.alias("msgid"),
        nothing.alias("data"),
        pl.coalesce("reason", pl.when(~is_message).then(pl.lit(NO_MESSAGE))).alias("reason"),
    ).select(HEAD)


def _checked(heads: pl.DataFrame) -> pl.DataFrame:
    """``heads`` with nil values as nulls, and without the mark before a text in UTF-8, RFC 5424 section 6.4."""
    priority = pl.col("priority").cast(pl.Int64)
    is_wrong = priority > HIGHEST_PRIORITY
    return heads.with_columns(
        pl.coalesce("reason", pl.when(is_wrong).then(pl.format(BAD_PRIORITY, "priority"))).alias("reason"),
        priority.alias("priority"),
        *(
            pl.when(pl.col(name) != "-").then(name).alias(name)
            for name in ("at", "host", "app", "procid", "msgid", "data")
        ),
        pl.col("msg").str.strip_prefix(" ").str.strip_prefix("\ufeff").alias("msg"),
    )


def _quoted(cell: pl.Expr) -> pl.Expr:
    start = cell.str.head(LONGEST_QUOTE).str.replace_all(r"\s", " ")
    dots = pl.when(cell.str.len_chars() > LONGEST_QUOTE).then(pl.lit("…")).otherwise(pl.lit(""))
    return pl.concat_str(pl.lit('"'), start, dots, pl.lit('"'))
