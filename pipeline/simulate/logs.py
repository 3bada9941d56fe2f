"""Writes the machines' logs, a file a machine and calendar month (UTC), in parts of some million lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import BinaryIO

import numpy as np
import polars as pl

from pipeline.simulate.acting import IN_STEP
from pipeline.simulate.chatter import Chatter, Due, Stretches
from pipeline.simulate.draws import Ints
from pipeline.simulate.line_bytes import line_texts, woven
from pipeline.simulate.mess import OVERLAP_US, mess_lines, row_fates
from pipeline.simulate.parameters import DAY_S, SECOND, Parameters, add_months
from pipeline.simulate.script import Script

HOUR_US, DAY_US = 3600 * SECOND, DAY_S * SECOND
METER_H = 1000  # what every hour meter shows as the room begins
READING_US = 2  # before midnight
HEADER = b"at,machine,event,value,detail\n"
FIELDS = ("at", "event", "value", "detail")


@dataclass(frozen=True)
class Rows:
    """Rows by where they end up: read = kept + repeats + set aside."""

    kept: int = 0
    repeats: int = 0
    set_aside: int = 0

    @property
    def read(self) -> int:
        """All of them."""
        return self.kept + self.repeats + self.set_aside

    def __add__(self, other: Rows) -> Rows:
        return Rows(self.kept + other.kept, self.repeats + other.repeats, self.set_aside + other.set_aside)


@dataclass(frozen=True)
class Written:
    """A file of a feed, its rows and its size."""

    path: str
    feed: str
    rows: Rows
    size_bytes: int


@dataclass(frozen=True)
class Log:
    """All there is to say about one machine's log but its chatter: lines of scenes, holes, when the pair is in step."""

    number: int
    machine: str
    events: pl.DataFrame
    hidden: Stretches
    in_step: Stretches
    error_us: int


def machine_logs(parameters: Parameters, script: Script, error_us: tuple[int, ...]) -> Iterator[Log]:
    """A log for each machine; each reads its hour meter just before every midnight, at last at the data-as-of time."""
    events, gaps, spans = script.table("events"), script.table("gaps"), script.table("spans")
    proved = spans.filter(pl.col("state") == "covered")
    readings = _readings(parameters)
    for number, machine in enumerate(parameters.machines):
        own = events.filter(pl.col("machine") == number).select(FIELDS)
        covered = proved.filter((pl.col("machine") == number) | (pl.col("protect") == number))
        yield Log(
            number,
            machine,
            pl.concat([own, readings]).sort("at", maintain_order=True),
            _stretches(gaps.filter(pl.col("machine") == number)),
            _stretches(covered),
            error_us[number],
        )


def scripted_lines(parameters: Parameters, script: Script) -> int:
    """How many lines all logs hold without chatter and mess."""
    return script.table("events").height + _readings(parameters).height * len(parameters.machines)


def hidden_us(script: Script) -> int:
    """How much of all logs together was never saved."""
    gaps = script.table("gaps")
    return int((gaps["end"] - gaps["start"]).sum())


def as_of_us(parameters: Parameters) -> int:
    """The last stamp of the room."""
    return parameters.ended_us - READING_US


def write_log(out: Path, log: Log, chatter: Chatter) -> Iterator[Written]:
    """The files of one machine, month by month."""
    for month, start, end in calendar_months(chatter.parameters):
        path = out / "events" / f"{log.machine}_{month}.csv"
        rows = Rows()
        with path.open("wb") as file:
            file.write(HEADER)
            if chatter.parameters.mess and start > chatter.parameters.started_us:
                repeated = _write_part(file, log, chatter, _one_part(log, chatter, start), is_messy=False)
                rows += Rows(repeats=repeated.read)
            for due in chatter.parts(log.number, start, end):
                rows += _write_part(file, log, chatter, due, is_messy=chatter.parameters.mess > 0)
        yield Written(f"events/{path.name}", "events", rows, path.stat().st_size)


def calendar_months(parameters: Parameters) -> list[tuple[str, int, int]]:
    """UTC months that the room touches: name, start and end in microseconds, cut to the room."""
    first = datetime.fromtimestamp(parameters.started_us // SECOND, UTC).date().replace(day=1)
    months = []
    while _utc(first) < parameters.ended_us:
        after = add_months(first, 1)
        months.append(
            (f"{first:%Y-%m}", max(_utc(first), parameters.started_us), min(_utc(after), parameters.ended_us))
        )
        first = after
    return months


def _utc(day: date) -> int:
    return round(datetime.combine(day, time(), tzinfo=UTC).timestamp()) * SECOND


def _one_part(log: Log, chatter: Chatter, start: int) -> Due:
    """The last lines of the month before: what a file brings again when logs are rotated late."""
    low = max(start - OVERLAP_US, chatter.parameters.started_us)
    parts = list(chatter.parts(log.number, low, start))
    number, at = (np.concatenate([getattr(part, name) for part in parts]) for name in ("number", "at"))
    return Due(low, start, number, at)


def _write_part(file: BinaryIO, log: Log, chatter: Chatter, due: Due, *, is_messy: bool) -> Rows:
    """Write the lines of one part, in order of time but for the mess; returns where they end up."""
    alive, others = _lines(log, chatter, due)
    texts = others.select(place="at", at="at", text=_on_own_clock(log))
    repeats = set_aside = 0
    if is_messy:
        # An `alive` row with a fate of its own joins the rows that are written one by one.
        fates = row_fates(chatter.parameters, log.number, alive)
        fated = fates.again | fates.spoilt | fates.later
        taken = _alive_lines(alive[fated]).select(place="at", at="at", text=_on_own_clock(log))
        alive = alive[~fated]
        texts = pl.concat([texts, taken]).sort("at", maintain_order=True)
        messed = mess_lines(texts, row_fates(chatter.parameters, log.number, texts["at"].to_numpy()))
        texts, repeats, set_aside = messed.lines, messed.repeats, messed.set_aside
    places = np.searchsorted(alive, texts["place"].to_numpy())
    rest = f",{log.machine},alive,,\n".encode()
    file.writelines(woven(alive + log.error_us, rest, places, texts["text"].to_list()))
    every = len(alive) + texts.height
    return Rows(every - repeats - set_aside, repeats, set_aside)


def _lines(log: Log, chatter: Chatter, due: Due) -> tuple[Ints, pl.DataFrame]:
    """Instants of the plain `alive` lines of a part, and all its other lines."""
    heard = due.only(~log.hidden.hold(due.at))
    is_hours = chatter.is_hours(heard.number)
    is_offset = chatter.is_offset(heard.number) & ~is_hours & log.in_step.hold(heard.at)
    offsets = _offset_lines(heard.at[is_offset])
    hours = _meter_lines(chatter.parameters, heard.at[is_hours])
    first, last = log.events["at"].search_sorted(pl.Series([due.start, due.end]))
    others = pl.concat([hours, offsets, log.events[int(first) : int(last)]]).sort("at", maintain_order=True)
    return heard.at[~(is_hours | is_offset)], others


def _alive_lines(at: Ints) -> pl.DataFrame:
    return pl.DataFrame({"at": at}).select("at", event=pl.lit("alive"), value=pl.lit(""), detail=pl.lit(""))


def _meter_lines(parameters: Parameters, at: Ints) -> pl.DataFrame:
    shown = ((pl.col("at") - parameters.started_us) / HOUR_US + METER_H).round(2).cast(pl.String)
    return pl.DataFrame({"at": at}).with_columns(event=pl.lit("hours"), value=shown, detail=pl.lit("")).select(FIELDS)


def _offset_lines(at: Ints) -> pl.DataFrame:
    values = pl.Series("value", np.array(IN_STEP, dtype=object)[at // 2 % len(IN_STEP)], dtype=pl.String)
    return pl.DataFrame({"at": at}).with_columns(values, event=pl.lit("offset"), detail=pl.lit("")).select(FIELDS)


def _readings(parameters: Parameters) -> pl.DataFrame:
    midnights = np.arange(parameters.started_us + DAY_US, parameters.ended_us + 1, DAY_US, dtype=np.int64)
    return _meter_lines(parameters, np.union1d(midnights, [parameters.ended_us]) - READING_US)


def _on_own_clock(log: Log) -> pl.Expr:
    return line_texts(log.machine, log.error_us)


def _stretches(table: pl.DataFrame) -> Stretches:
    ordered = table.sort("start")
    return Stretches(ordered["start"].to_numpy(), ordered["end"].to_numpy())
