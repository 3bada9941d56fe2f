"""The feeds of a canonical site as polars frames: readable rows, each once; the others set aside with a reason."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from bench.speed.jobs.job import ACTIONS, EVENTS, REASONS, ROLES, TURNS, Job

WALL = "%Y-%m-%dT%H:%M:%S%.f"
TICKET_TIMES = ("opened", "restored", "closed")


@dataclass(frozen=True)
class Feeds:
    """The readable rows of each feed, each once, and how many were set aside or came again."""

    events: pl.DataFrame
    switches: pl.DataFrame
    bookings: pl.DataFrame
    machines: pl.DataFrame
    aside: int
    repeats: int


def read_feeds(job: Job) -> Feeds:
    """Read every feed; unreadable rows are set aside with a reason, rows that came again dropped."""
    events, no_events = _read_events(job)
    switches, no_switches = _read_switches(job)
    bookings, no_bookings = _read_bookings(job)
    _, no_tickets = _read_tickets(job)
    once, taken = events.unique(), switches.unique()
    aside = sum(len(frame) for frame in (no_events, no_switches, no_bookings, no_tickets))
    repeats = len(events) - len(once) + len(switches) - len(taken)
    machines = _read(job.site, "machines*.csv")
    return Feeds(once, taken, bookings.unique("booking", keep="last"), machines, aside, repeats)


def _read(site: Path, pattern: str) -> pl.DataFrame:
    """The files' rows by name and line, as text; an empty cell is null."""
    scan = pl.scan_csv(site / pattern, infer_schema=False, null_values=[""], include_file_paths="file")
    return scan.collect()


def _split(frame: pl.DataFrame, reasons: Iterable[pl.Expr]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The rows that no reason speaks against, and the others with the first that does."""
    judged = frame.with_columns(pl.coalesce(*reasons).alias("why"))
    return judged.filter(pl.col("why").is_null()), judged.filter(pl.col("why").is_not_null())


def _read_events(job: Job) -> tuple[pl.DataFrame, pl.DataFrame]:
    read = _read(job.site, "events/*.csv")
    place = pl.col("event").replace_strict(TURNS, default=7, return_dtype=pl.Int8)
    typed = read.with_columns(
        in_us(job, read["at"]).alias("at_us"),
        pl.col("value").cast(pl.Float64, strict=False).alias("number"),
    )
    reasons = (_no_time("at", "at_us"), _empty("machine"), _no_word("event", EVENTS), _no_number("value", "number"))
    good, bad = _split(typed, reasons)
    number = pl.col("number").alias("value")
    return good.select("machine", "at_us", place.alias("place"), "event", number, "detail"), bad


def _read_switches(job: Job) -> tuple[pl.DataFrame, pl.DataFrame]:
    read = _read(job.site, "switches*.csv")
    no_reason = pl.when(~pl.col("reason").is_in(REASONS)).then(pl.lit("reason is none of the words"))
    words = (_no_word("action", ACTIONS), _empty("channel"), _empty("to_machine"), no_reason)
    good, bad = _split(read.with_columns(in_us(job, read["at"]).alias("at_us")), (_no_time("at", "at_us"), *words))
    return good.select("at_us", "action", "channel", "from_machine", "to_machine", "reason", "by"), bad


def _read_bookings(job: Job) -> tuple[pl.DataFrame, pl.DataFrame]:
    read = _read(job.site, "bookings*.csv")
    typed = read.with_columns(in_us(job, read["starts"]).alias("start_us"), in_us(job, read["ends"]).alias("end_us"))
    nameless = pl.any_horizontal(pl.col("transmission", "channel").is_null())
    reasons = (
        *(_empty(name) for name in ("booking", "machine")),
        _no_word("role", ROLES),
        _no_time("starts", "start_us"),
        _no_time("ends", "end_us"),
        pl.when(pl.col("role").is_in(("air", "protect")) & nameless).then(pl.lit("it names no transmission")),
        pl.when(pl.col("end_us") <= pl.col("start_us")).then(pl.lit("it ends before it starts")),
    )
    return _split(typed, reasons)


def _read_tickets(job: Job) -> tuple[pl.DataFrame, pl.DataFrame]:
    read = _read(job.site, "tickets*.csv")
    typed = read.with_columns(
        *(in_us(job, read[name]).alias(f"{name}_us") for name in TICKET_TIMES),
        *(pl.col(name).cast(pl.Float64, strict=False).alias(f"{name}_no") for name in ("labour_hours", "parts_cost")),
    )
    times = (_no_time(name, f"{name}_us", may_miss=True) for name in TICKET_TIMES)
    numbers = (_no_number(name, f"{name}_no") for name in ("labour_hours", "parts_cost"))
    return _split(typed, (_empty("ticket"), *times, *numbers))


def in_us(job: Job, cells: pl.Series) -> pl.Series:
    """Microseconds since 1970, UTC; a stamp without an offset is in the site's zone. Null: no time."""
    wall = cells.str.strip_suffix("Z").str.to_datetime(WALL, time_unit="us", strict=False)
    is_utc = cells.str.ends_with("Z")
    if is_utc.all():
        return wall.dt.epoch("us")
    there = wall.dt.replace_time_zone(job.zone, ambiguous="earliest", non_existent="null").dt.convert_time_zone("UTC")
    zoned = cells.str.to_datetime(f"{WALL}%#z", time_unit="us", time_zone="UTC", strict=False)
    local = there.dt.epoch("us").fill_null(zoned.dt.epoch("us"))
    return wall.dt.epoch("us").zip_with(is_utc.fill_null(value=False), local)


def _no_time(name: str, instant: str, *, may_miss: bool = False) -> pl.Expr:
    wrong = pl.col(instant).is_null()
    return pl.when(wrong & pl.col(name).is_not_null() if may_miss else wrong).then(pl.lit(f"{name} is no time"))


def _empty(name: str) -> pl.Expr:
    return pl.when(pl.col(name).is_null()).then(pl.lit(f"{name} is empty"))


def _no_word(name: str, words: tuple[str, ...]) -> pl.Expr:
    known = pl.col(name).is_in(words).fill_null(value=False)
    return pl.when(~known).then(pl.lit(f"{name} is none of the words"))


def _no_number(name: str, number: str) -> pl.Expr:
    is_number = pl.col(number).is_finite().fill_null(value=False)
    return pl.when(pl.col(name).is_not_null() & ~is_number).then(pl.lit(f"{name} is no number"))
