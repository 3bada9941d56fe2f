"""What was booked and taken, with polars: windows, takes in their pieces, members, and what the selector was on."""

import polars as pl

from bench.speed.jobs.job import Job
from bench.speed.jobs.polars_feeds import Feeds
from bench.speed.jobs.polars_machines import OFF, join_last

DAY_US = 86_400_000_000


def find_windows(feeds: Feeds) -> pl.DataFrame:
    """Air windows, cut at the latest stamp."""
    latest = max(int(frame["at_us"].max() or 0) for frame in (feeds.events, feeds.switches))  # type: ignore[arg-type]
    unit = ("channel", "transmission")
    air = feeds.bookings.filter(pl.col("role") == "air").sort(*unit, "start_us")
    reached = pl.col("end_us").cum_max().shift(1).over(*unit)
    stretch = (pl.col("start_us") > reached).fill_null(value=True).cum_sum().over(*unit)
    return (
        air.with_columns(stretch=stretch)
        .group_by(*unit, "stretch")
        .agg(start_us=pl.col("start_us").min(), booked_us=pl.col("end_us").max())
        .filter(pl.col("start_us") < latest)
        .sort("channel", "start_us")
        .with_columns(end_us=pl.min_horizontal("booked_us", pl.lit(latest)))
        .with_row_index("piece")
        .drop("stretch")
    )


def place_takes(switches: pl.DataFrame, windows: pl.DataFrame) -> pl.DataFrame:
    """Takes and starts in order, each with the piece it falls into."""
    pieces = windows.select("channel", "piece", "transmission", from_us="start_us", until_us="end_us")
    order = ("channel", "at_us", "from_machine", "to_machine")
    takes = switches.sort(*order, nulls_last=False).with_row_index("take")
    placed = join_last(takes, pieces, ("at_us", "from_us"), by="channel")
    inside = pl.col("at_us") < pl.col("until_us")
    return placed.with_columns(
        pl.when(inside).then(pl.col(name)).alias(name) for name in ("piece", "transmission", "until_us")
    )


def find_members(job: Job, bookings: pl.DataFrame, windows: pl.DataFrame, takes: pl.DataFrame) -> pl.DataFrame:
    """Which machines are of a piece and when: booked, with the lead, or named on the channel."""
    booked = bookings.filter(pl.col("role").is_in(("air", "protect"))).select(
        "channel", "transmission", "machine", start_us=pl.col("start_us") - job.lead_us, end_us="end_us"
    )
    inside = takes.filter(pl.col("piece").is_not_null())
    named = pl.concat([
        inside.select("piece", "channel", "transmission", "at_us", "until_us", machine="to_machine", is_left=False),
        inside.filter(pl.col("action") == "take").select(
            "piece", "channel", "transmission", "at_us", "until_us", machine="from_machine", is_left=True
        ),
    ]).filter(~pl.col("machine").is_in(OFF)).unique().with_row_index("naming")  # fmt: skip
    at = pl.col("at_us")
    reach = spread_by_day(booked, pl.col("end_us") + job.lead_us)
    elsewhere = named.with_columns(day=at // DAY_US).join(reach, on=("machine", "day"), suffix="_of")
    other = pl.col("transmission") != pl.col("transmission_of")
    now = (at >= pl.col("start_us")) & (at < pl.col("end_us"))
    free = named.join(elsewhere.filter(other & now), on="naming", how="anti")
    before = (
        (pl.col("end_us") <= at) & (pl.col("end_us") >= at - job.lead_us) & (pl.col("channel") == pl.col("channel_of"))
    )
    over = elsewhere.filter(other & before)
    own = elsewhere.filter(~other & now & (pl.col("channel") == pl.col("channel_of")))
    reached = free.filter(~pl.col("is_left")).group_by("piece", "machine").agg(first_us=pl.col("at_us").min())
    earlier = free.join(reached, on=("piece", "machine")).filter(pl.col("first_us") < at)
    is_kept = ~pl.col("is_left") | ~_in(over) | _in(own) | _in(earlier)
    joined = free.filter(is_kept).select("piece", "machine", start_us="at_us", end_us="until_us")
    ours = windows.join(booked, on=("channel", "transmission"), suffix="_of").filter(
        (pl.col("start_us_of") < pl.col("end_us")) & (pl.col("end_us_of") > pl.col("start_us"))
    )
    return pl.concat([ours.select("piece", "machine", start_us="start_us_of", end_us="end_us_of"), joined]).unique()


def _in(frame: pl.DataFrame) -> pl.Expr:
    return pl.col("naming").is_in(frame["naming"].implode())


def follow_selector(
    job: Job, bookings: pl.DataFrame, windows: pl.DataFrame, takes: pl.DataFrame, *, members: pl.DataFrame
) -> pl.DataFrame:
    """What each piece's selector was on from an instant on: piece, at_us, feed."""
    taken = takes.filter(pl.col("action") == "take").sort("take")
    inside = taken.filter(pl.col("piece").is_not_null())
    first = inside.group_by("piece", maintain_order=True).agg(pl.col("from_machine").first())
    starts = windows.select("piece", "channel", "transmission", "start_us")
    by_time = taken.select("channel", "at_us", "to_machine", "until_us").unique(
        ("channel", "at_us"), keep="last", maintain_order=True
    )
    last = join_last(starts, by_time, ("start_us", "at_us"), by="channel", allow_exact_matches=False)
    start = pl.col("start_us")
    fresh = (start - pl.col("at_us") <= job.lead_us) | (start - pl.col("until_us") <= job.lead_us).fill_null(
        value=False
    )
    at_start = members.join(starts, on="piece", suffix="_of").filter(
        (pl.col("start_us") <= pl.col("start_us_of")) & (pl.col("end_us") > pl.col("start_us_of"))
    )
    fits = last.filter(fresh).join(
        at_start.select("piece", to_machine="machine", fits=True).unique(), on=("piece", "to_machine"), how="left"
    ).filter(pl.col("to_machine").is_in(OFF) | pl.col("fits"))  # fmt: skip
    air = starts.join(bookings.filter(pl.col("role") == "air"), on=("channel", "transmission"), suffix="_of").filter(
        (pl.col("start_us_of") <= start) & (pl.col("end_us") > start)
    ).sort("start_us_of", "booking").unique("piece", keep="last")  # fmt: skip
    feed = starts.join(first, on="piece", how="left")
    for told in (fits.select("piece", "to_machine"), air.select("piece", "machine")):
        feed = feed.join(told, on="piece", how="left")
    feed = feed.select("piece", at_us="start_us", feed=pl.coalesce("from_machine", "to_machine", "machine"))
    stays = pl.concat([feed, inside.select("piece", "at_us", feed="to_machine")])
    return stays.unique(("piece", "at_us"), keep="last", maintain_order=True)


def spread_by_day(spans: pl.DataFrame, end: pl.Expr) -> pl.DataFrame:
    """Each span once for every day it touches: what is joined by day need not be compared with all of the years."""
    return spans.with_columns(day=pl.int_ranges(pl.col("start_us") // DAY_US, end // DAY_US + 1)).explode("day")
