"""Tells by the order of a file's lines which pass of the doubled hour a stamp means, where the order does tell.

In autumn a local time comes twice, and a stamp without an offset does not say which is meant. Lines are written in time
order, so where the times go back within the doubled hour, what stands before is the first pass and what follows the
second. Nothing is guessed beyond that: what the order leaves open keeps its first meaning and stays flagged.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl

LATE_US = 60_000_000  # a line may be written this much out of order
APART_US = 86_400_000_000  # no doubled span is so long: times further apart are of two of them
OUTSIDE = ("far_up", "far_down", "up", "down")


def resolve_folds(stamps: pl.DataFrame, zone: ZoneInfo) -> pl.DataFrame:
    """``line``, ``at_utc``, ``is_ambiguous`` of each row of ``stamps``, in its order, as far as order decides.

    ``stamps`` are rows of one file in file order: ``line``, ``group`` (whose log it is: a machine, a channel),
    ``at_utc`` (naive, the first meaning) and ``is_ambiguous``. A row that order decides is ambiguous no more, and where
    its second meaning is meant it lies later by the fold's width, which is the zone's: an hour, at Lord Howe half of
    one. Every other row is as it came.

    In each group, a run of consecutive ambiguous rows of one fold is taken as rows of the first pass and then rows of
    the second. Of all places in it where the second may begin, those count where no row comes to lie more than 60 s
    before the one in front of it, the neighbours of the run included. A row that is of the same pass for all of these
    is decided. So one step back decides the whole run; more than one leave no place, as the run is not in time order;
    none leaves every place, unless a neighbour whose instant is sure excludes some: one with an offset, or a line just
    outside the fold that is a little late. A step back of 60 s or less is such a late line.

    A group whose steps outside its runs mostly go back is a log written newest first, and is read from its end. The
    whole file's steps count where a group has none. Where there are less than two of one direction to each of the
    other, the group is in no time order, and nothing is decided.
    """
    if not stamps["is_ambiguous"].any():
        return stamps.select("line", "at_utc", "is_ambiguous")
    frame = stamps.select("line", "group", "at_utc", "is_ambiguous", pl.col("at_utc").cast(pl.Int64).alias("at_us"))
    frame = _with_runs(_in_time_order(frame.with_row_index("place")))
    frame = frame.join(_decided(frame, zone), on="run", how="left", maintain_order="left")
    number = pl.int_range(pl.len()).over("run")
    is_first, is_second = number < pl.col("first_until"), number >= pl.col("second_from")
    later = pl.col("at_utc") + pl.duration(microseconds="width_us")
    frame = frame.with_columns(
        pl.when(is_second).then(later).otherwise("at_utc").alias("at_utc"),
        (pl.col("is_ambiguous") & ~(is_first | is_second).fill_null(value=False)).alias("is_ambiguous"),
    )
    return frame.sort("place").select("line", "at_utc", "is_ambiguous")


def _in_time_order(frame: pl.DataFrame) -> pl.DataFrame:
    """``frame`` group by group, newest-first ones turned round; ``is_ordered`` is false where a group has no order."""
    whole = frame.select(_outside_steps()).select(_direction()).item()
    groups = frame.group_by("group").agg(_outside_steps()).select("group", _direction().alias("own"))
    frame = frame.join(groups, on="group", how="left", nulls_equal=True, maintain_order="left")
    frame = frame.with_columns(pl.when(pl.col("own") == 0).then(pl.lit(whole)).otherwise("own").alias("direction"))
    is_back = pl.col("direction") == -1
    in_order = pl.when(is_back).then(-pl.col("place").cast(pl.Int64)).otherwise(pl.col("place"))
    return frame.with_columns(pl.col("direction").is_not_null().alias("is_ordered"), in_order.alias("key")).sort(
        "group", "key"
    )


def _outside_steps() -> list[pl.Expr]:
    """Steps forward and back (far: beyond 60 s), but for those within a run, which are what is to be decided."""
    step = pl.col("at_us").diff()
    is_within = pl.col("is_ambiguous") & pl.col("is_ambiguous").shift() & (step.abs() < APART_US)
    step = step.filter(~is_within.fill_null(value=False))
    counts = (step > LATE_US, step < -LATE_US, step > 0, step < 0)
    return [count.sum().alias(name) for name, count in zip(OUTSIDE, counts, strict=True)]


def _direction() -> pl.Expr:
    """1 forward, -1 back, 0 where there is no step, null where they are mixed. Far steps count if there are any."""
    has_far = pl.col("far_up") + pl.col("far_down") > 0
    up, down = (pl.when(has_far).then(f"far_{name}").otherwise(name).cast(pl.Int64) for name in ("up", "down"))
    told = pl.when(up >= 2 * down).then(1).when(down >= 2 * up).then(-1)
    return pl.when(up + down == 0).then(0).otherwise(told)


def _with_runs(frame: pl.DataFrame) -> pl.DataFrame:
    """``frame`` with ``run``, the number of each run that order may decide, and what its rows' neighbours are."""
    before = pl.col("at_us").shift().over("group")
    frame = frame.with_columns(
        before.alias("before"),
        pl.col("at_us").shift(-1).over("group").alias("after"),
        (pl.col("at_us") - before).alias("step"),
        pl.col("is_ambiguous").shift().over("group").fill_null(value=False).alias("was_ambiguous"),
    )
    goes_on = (pl.col("was_ambiguous") & (pl.col("step").abs() < APART_US)).fill_null(value=False)
    begins = pl.col("is_ambiguous") & ~goes_on
    run = pl.when(pl.col("is_ambiguous") & pl.col("is_ordered")).then(begins.cum_sum())
    return frame.with_columns(run.alias("run"), (goes_on & (pl.col("step") < -LATE_US)).alias("is_back"))


def _decided(frame: pl.DataFrame, zone: ZoneInfo) -> pl.DataFrame:
    """Each run's rows that are of the first pass for sure (before ``first_until``), and those of the second."""
    at = pl.col("at_us")
    runs = (
        frame.filter(pl.col("run").is_not_null())
        .group_by("run", maintain_order=True)
        .agg(
            at.first().alias("first"),
            at.last().alias("last"),
            pl.col("before").first(),
            pl.col("after").last(),
            pl.len().cast(pl.Int64).alias("rows"),
            pl.col("is_back").sum().alias("backs"),
            pl.col("is_back").arg_max().cast(pl.Int64).alias("back"),
        )
    )
    widths = [_width_us(first, zone) for first in runs["first"].to_list()]
    runs = runs.with_columns(pl.Series("width_us", widths, pl.Int64))
    is_once, is_never = pl.col("backs") == 1, pl.col("backs") == 0
    first_pass, second_pass = _fits_before(0), _fits_before(pl.col("width_us"))
    ends_first, ends_second = _fits_after(0), _fits_after(pl.col("width_us"))
    all_first, all_second = is_never & first_pass & ends_first, is_never & second_pass & ends_second
    # Without a step back, where the second pass may begin within the run, it may begin at either end of it as well.
    both = is_once & first_pass & ends_second
    return runs.select(
        "run",
        "width_us",
        pl.when(both).then("back").when(all_second).then(0).when(all_first).then("rows").alias("first_until"),
        pl.when(both).then("back").when(all_first).then("rows").when(all_second).then(0).alias("second_from"),
    )


def _fits_before(shift_us: pl.Expr | int) -> pl.Expr:
    return (pl.col("before") <= pl.col("first") + shift_us + LATE_US).fill_null(value=True)


def _fits_after(shift_us: pl.Expr | int) -> pl.Expr:
    return (pl.col("after") >= pl.col("last") + shift_us - LATE_US).fill_null(value=True)


def _width_us(at_us: int, zone: ZoneInfo) -> int:
    """How far the clocks went back around that instant, in microseconds."""
    local = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=at_us)).astimezone(zone)
    first, again = local.replace(fold=0).utcoffset(), local.replace(fold=1).utcoffset()
    return (first - again) // timedelta(microseconds=1) if first is not None and again is not None else 0
