"""How rows of the machine logs are stored: what can be written again, letter by letter, from the rest is not kept.

Nearly every line of a log says nothing but its stamp, machine and event, so that its text and the text of its stamp
would be the larger part of the database. ``raw_event_rows`` leaves them out where they follow from the other columns;
the view ``raw_events`` writes them again when they are read, so that whoever reads it sees every row whole.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.times.same_layout import walls_by_layout
from pipeline.store import Store

TABLE = "raw_event_rows"
COLUMNS = (
    ("file", "VARCHAR"),
    ("line", "BIGINT"),
    ("text_kept", "VARCHAR"),
    ("at_text_kept", "VARCHAR"),
    ("stamped_at_utc", "TIMESTAMP"),
    ("east_s", "INTEGER"),
    ("ending", "TINYINT"),
    ("is_ambiguous", "BOOLEAN"),
    ("stamp_digits", "TINYINT"),
    ("machine", "VARCHAR"),
    ("event", "VARCHAR"),
    ("value", "DOUBLE"),
    ("detail", "VARCHAR"),
    ("extra", "VARCHAR"),
)
NO_OFFSET, ZULU, OFFSET = 0, 1, 2  # how a stamp ends
ENDINGS = {"": NO_OFFSET, "Z": ZULU}  # all others are offsets
VIEW = f"""
with stamps as (
    select
        *,
        stamped_at_utc + to_seconds(east_s) as wall,
        abs(east_s) // 60 as east_min
    from {TABLE}
),
spelled as (
    select
        *,
        coalesce(
            at_text_kept,
            strftime(wall, '%Y-%m-%dT%H:%M:%S')
            || case when stamp_digits = 0 then '' else '.' || left(strftime(wall, '%f'), stamp_digits) end
            || case
                when ending = {NO_OFFSET} then ''
                when ending = {ZULU} then 'Z'
                else
                    case when east_s < 0 then '-' else '+' end
                    || lpad(cast(east_min // 60 as varchar), 2, '0') || ':'
                    || lpad(cast(east_min % 60 as varchar), 2, '0')
            end
        ) as at_text,
        case
            when value is null then ''
            when value = trunc(value) then cast(try_cast(value as bigint) as varchar)
            else cast(value as varchar)
        end as value_text
    from stamps
)
select
    file,
    line,
    case
        when text_kept is not null then text_kept
        else at_text || ',' || machine || ',' || event || ',' || value_text || ',' || coalesce(detail, '')
    end as text,
    at_text,
    stamped_at_utc,
    is_ambiguous,
    stamp_digits,
    machine,
    event,
    value,
    detail,
    extra
from spelled
"""
# A fraction of at most four digits, the last of them not 0, below a thousand million: every program writes it alike.
FRACTION = r"^-?(?:0|[1-9][0-9]{0,8})\.[0-9]{0,3}[1-9]$"
WHOLE = r"^(-?[1-9][0-9]{0,8}|0)\.0$"


def make_view(store: Store) -> None:
    """Have ``raw_events`` read ``raw_event_rows``, which must exist; nothing is written where it does."""
    named = "select 1 from information_schema.tables where table_name = ? and table_type = 'VIEW'"
    if not store.value(named, [EVENTS.table]):
        store.build(EVENTS.table, VIEW, is_view=True)


def lean_rows(kept: pl.DataFrame) -> pl.DataFrame:
    """``kept``, readable events as typing gives them, with the columns of ``raw_event_rows`` but ``file``.

    A null ``text`` says that the row's text follows from its columns. The text of a stamp follows from its instant
    where it has a usual ISO 8601 spelling with a "T"; ``east_s`` is the time written minus the instant.
    """
    stamps = _lean_stamps(kept["at_text"], kept["stamped_at_utc"])
    texts = _texts_kept(kept).alias("text_kept")
    return kept.drop("text", "at_text").with_columns(texts, *stamps)


def _lean_stamps(texts: pl.Series, instants: pl.Series) -> list[pl.Series]:
    """``at_text_kept``, ``east_s`` and ``ending`` of each stamp."""
    at_us = instants.cast(pl.Int64).to_numpy()
    east_s, ending = np.zeros(texts.len(), np.int32), np.full(texts.len(), -1, np.int8)
    for places, walls in walls_by_layout(texts):
        east_us = walls.wall_us - at_us[places]
        is_lean = walls.is_read & (east_us % 1_000_000 == 0) & (walls.letter == "T") & (walls.ending != "-00:00")
        east_s[places[is_lean]] = east_us[is_lean] // 1_000_000
        ending[places[is_lean]] = ENDINGS.get(walls.ending, OFFSET)
    is_kept = pl.Series(ending < 0)
    if not is_kept.any():
        none = pl.repeat(None, texts.len(), dtype=pl.String, eager=True)
        return [none.alias("at_text_kept"), pl.Series("east_s", east_s), pl.Series("ending", ending)]
    return [
        texts.set(~is_kept, None).alias("at_text_kept"),
        pl.Series("east_s", east_s).set(is_kept, None),
        pl.Series("ending", ending).set(is_kept, None),
    ]


def _texts_kept(kept: pl.DataFrame) -> pl.Series:
    """The texts that do not follow from the other columns."""
    texts = kept["text"]
    at = texts.is_not_null().arg_true()
    if not at.len():
        return texts
    given = kept if at.len() == kept.height else kept.select(pl.all().gather(at))
    number = pl.col("value").cast(pl.String)
    spelled = (
        pl.when(pl.col("value").is_null())
        .then(pl.lit(""))
        .when(number.str.contains(FRACTION))
        .then(number)
        .otherwise(number.str.extract(WHOLE))
    )
    again = pl.concat_str("at_text", "machine", "event", spelled, pl.col("detail").fill_null(""), separator=",")
    left = given.select(pl.when((pl.col("text") != again).fill_null(value=True)).then("text"))["text"]
    return left if at.len() == kept.height else texts.scatter(at, left)
