"""The job with polars alone; `python -m bench.speed.jobs.with_polars SITE`."""

import polars as pl

from bench.speed.jobs.job import Job, asked_job, print_answer
from bench.speed.jobs.polars_feeds import read_feeds
from bench.speed.jobs.polars_machines import BY_TIME, OFF, PAIR, compare_pairs, find_known, find_states, join_last
from bench.speed.jobs.polars_windows import (
    DAY_US,
    find_members,
    find_windows,
    follow_selector,
    place_takes,
    spread_by_day,
)


def main() -> None:
    job = asked_job()
    feeds = read_feeds(job)
    events = feeds.events.sort(*BY_TIME)
    turns, states = find_states(job, events)
    windows = find_windows(feeds)
    takes = place_takes(feeds.switches, windows)
    members = find_members(job, feeds.bookings, windows, takes)
    stays = follow_selector(job, feeds.bookings, windows, takes, members=members)
    present = find_known(job, events, turns, windows, members=members, stays=stays)
    steps = compare_pairs(job, feeds, events, turns, present=present)
    air = judge(windows, members, stays, present, states=states, steps=steps)
    print_answer(
        add_up(job, take_off_early_ends(job, air, windows, events, takes), windows), feeds.aside, feeds.repeats
    )


def judge(
    windows: pl.DataFrame, members: pl.DataFrame, stays: pl.DataFrame, present: pl.DataFrame, *,
    states: pl.DataFrame, steps: pl.DataFrame,
) -> pl.DataFrame:  # fmt: skip
    """Each slice of a piece in which nothing changes: piece, start_us, end_us, feed, state."""
    slices = _cut(windows, members, stays, present, states=states, steps=steps)
    there = slices.join(present.select("piece", "machine", "known_us"), on="piece")
    standing = pl.when(pl.col("known_us") <= pl.col("start_us")).then("state").fill_null("not known")
    judged = join_last(there, states, ("start_us", "at_us"), by="machine").with_columns(state=standing)
    of_it = judged.join(members, on=("piece", "machine"), suffix="_of").filter(
        (pl.col("start_us_of") <= pl.col("start_us")) & (pl.col("end_us_of") > pl.col("start_us"))
    )
    is_member = of_it.select("piece", "start_us", "machine", is_member=True).unique()
    judged = judged.join(is_member, on=("piece", "start_us", "machine"), how="left")
    own = judged.filter(pl.col("machine") == pl.col("feed")).select("piece", "start_us", "state", "is_member")
    fed = slices.join(own, on=("piece", "start_us"), how="left")
    fed = fed.join(_protect(judged, steps), on=("piece", "start_us"), how="left")
    return fed.with_columns(
        state=pl.when(pl.col("feed") == "other").then(None)
        .when((pl.col("feed") == "standby") | (pl.col("state") == "not good")).then(pl.lit("lost"))
        .when(pl.col("state").ne_missing("good")).then(pl.lit("unknown"))
        .when(pl.col("is_member").is_null()).then(pl.lit("exposed"))
        .when("is_covered").then(pl.lit("covered"))
        .when("is_unproved").then(pl.lit("unproved"))
        .otherwise(pl.lit("exposed"))
    )  # fmt: skip


def _protect(judged: pl.DataFrame, steps: pl.DataFrame) -> pl.DataFrame:
    others = judged.filter(pl.col("is_member") & (pl.col("machine") != pl.col("feed")) & ~pl.col("feed").is_in(OFF))
    paired = others.with_columns(one=pl.min_horizontal("feed", "machine"), two=pl.max_horizontal("feed", "machine"))
    proved = join_last(paired, steps, ("start_us", "at_us"), by=PAIR)
    good = pl.col("state") == "good"
    return proved.group_by("piece", "start_us").agg(
        is_covered=(good & pl.col("is_in_step").fill_null(value=False)).any(),
        is_unproved=((pl.col("state") == "not known") | good & pl.col("is_in_step").is_null()).any(),
    )


def _cut(
    windows: pl.DataFrame, members: pl.DataFrame, stays: pl.DataFrame, present: pl.DataFrame, *,
    states: pl.DataFrame, steps: pl.DataFrame,
) -> pl.DataFrame:  # fmt: skip
    inside = (pl.col("at_us") > pl.col("start_us")) & (pl.col("at_us") < pl.col("end_us"))
    both = present.rename({"machine": "one"}).join(present.select("piece", two="machine"), on="piece")
    points = pl.concat([
        stays.select("piece", "at_us"),
        _within(present, states, "machine"),
        present.select("piece", "start_us", "end_us", at_us="known_us").filter(inside).select("piece", "at_us"),
        members.select("piece", at_us="start_us"),
        members.select("piece", at_us="end_us"),
        _within(both.filter(pl.col("one") < pl.col("two")), steps, *PAIR),
    ]).unique()  # fmt: skip
    bounds = windows.select("piece", "start_us", stop_us="end_us")
    held = points.join(bounds, on="piece").filter(
        (pl.col("at_us") >= pl.col("start_us")) & (pl.col("at_us") < pl.col("stop_us"))
    ).sort("piece", "at_us")  # fmt: skip
    slices = held.select(
        "piece", start_us="at_us", end_us=pl.col("at_us").shift(-1).over("piece").fill_null(pl.col("stop_us"))
    )  # fmt: skip
    return join_last(slices, stays, ("start_us", "at_us"), by="piece").drop("at_us")


def _within(pieces: pl.DataFrame, changes: pl.DataFrame, *names: str) -> pl.DataFrame:
    """The changes inside each piece, of the machine or pair that ``names`` tell."""
    asked = spread_by_day(pieces.select("piece", "start_us", "end_us", *names), pl.col("end_us"))
    told = changes.select("at_us", *names, day=pl.col("at_us") // DAY_US)
    found = asked.join(told, on=("day", *names))
    is_inside = (pl.col("at_us") > pl.col("start_us")) & (pl.col("at_us") < pl.col("end_us"))
    return found.filter(is_inside).select("piece", "at_us")


def take_off_early_ends(
    job: Job, air: pl.DataFrame, windows: pl.DataFrame, events: pl.DataFrame, takes: pl.DataFrame
) -> pl.DataFrame:
    """The slices without those after a programme ended early without being lost."""
    whole = windows.filter(pl.col("end_us") == pl.col("booked_us"))
    sound = air.filter(pl.col("state").ne_missing("lost")).group_by("piece").agg(sound_us=pl.col("end_us").max())
    tails = whole.join(sound, on="piece", how="left").with_columns(
        tail_us=pl.col("sound_us").fill_null(pl.col("start_us"))
    )
    late = tails.filter((pl.col("tail_us") >= pl.col("end_us") - job.tail_us) & (pl.col("tail_us") < pl.col("end_us")))
    feeds = late.select("piece", "channel", start_us="tail_us").join(air, on=("piece", "start_us"))
    stops = events.filter(pl.col("event") == "stop").select(feed="machine", start_us="at_us")
    planned = takes.filter((pl.col("to_machine") == "standby") & (pl.col("reason") == "planned")).select(
        "channel", start_us="at_us", feed="to_machine"
    )
    early = pl.concat([
        feeds.join(stops, on=("feed", "start_us"), how="semi"),
        feeds.join(planned, on=("channel", "start_us", "feed"), how="semi"),
    ]).select("piece", early_us="start_us")  # fmt: skip
    ended = air.join(early, on="piece", how="left")
    return ended.filter((pl.col("start_us") < pl.col("early_us")).fill_null(value=True))


def add_up(job: Job, air: pl.DataFrame, windows: pl.DataFrame) -> list[tuple[str, str, int]]:
    """Microseconds by month and state."""
    if windows.is_empty():
        return []
    edges = list(job.months(windows["start_us"].min(), windows["end_us"].max()))  # type: ignore[arg-type]
    months = pl.DataFrame(edges, schema=("month", "from_us", "until_us"), orient="row")
    length = pl.min_horizontal("end_us", "until_us") - pl.max_horizontal("start_us", "from_us")
    split = (
        air.filter(pl.col("state").is_not_null())
        .join(months, how="cross")
        .filter((pl.col("start_us") < pl.col("until_us")) & (pl.col("end_us") > pl.col("from_us")))
    )
    return split.group_by("month", "state").agg(length.sum()).rows()


if __name__ == "__main__":
    main()
