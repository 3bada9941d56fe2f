"""What each machine did, with polars: its states, since when it is known in a piece, whether two were in step."""

from typing import Any

import polars as pl

from bench.speed.jobs.job import Job
from bench.speed.jobs.polars_feeds import Feeds

OFF = ("standby", "other")
BY_TIME = ("machine", "at_us", "place")
PAIR = ("one", "two")


def join_last(
    left: pl.DataFrame, right: pl.DataFrame, on: tuple[str, str], *, by: str | tuple[str, ...], **how: Any
) -> pl.DataFrame:
    """The last row of the right at or before each row of the left."""
    earlier, later = left.sort(on[0]), right.sort(on[1], maintain_order=True)
    return earlier.join_asof(later, left_on=on[0], right_on=on[1], by=by, check_sortedness=False, **how)


def find_states(job: Job, events: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What each turn leaves its machine in, and each machine's state from an instant on."""
    event, at = pl.col("event"), pl.col("at_us")
    habits = events.group_by("machine").agg(logs_lock=(event == "lock").any(), logs_alive=(event == "alive").any())
    turns = (
        events.with_columns(heard_us=at.shift(1).over("machine"))
        .filter(pl.col("place") < 7)
        .with_columns(was=pl.when(event.is_in(("roll", "stop"))).then(event).forward_fill().shift(1).over("machine"))
        .with_columns(
            begins=(event == "stop")
            | (event == "roll")
            & ~((pl.col("was") == "roll") & (at - pl.col("heard_us") <= job.carry_us)).fill_null(value=False)
        )
        .with_columns(run=pl.col("begins").cum_sum().over("machine"))
        .join(habits, on="machine", how="left", maintain_order="left")
    )
    turns = _hold(turns)
    talkers = habits.filter("logs_alive").select("machine")
    words = events.join(talkers, on="machine", how="semi", maintain_order="left").select(
        "machine", start_us=at + job.silence_us, end_us=at.shift(-1).over("machine")
    )
    silences = words.filter(pl.col("end_us").is_null() | (pl.col("end_us") > pl.col("start_us")))
    return turns, _join_silences(turns, silences)


def _hold(turns: pl.DataFrame) -> pl.DataFrame:
    """Each turn with whether its machine then rolls, runs (rolls locked), and its state."""
    run = ("machine", "run")

    def last_of(*words: str) -> pl.Expr:
        return pl.when(pl.col("event").is_in(words)).then(pl.col("event")).forward_fill().over(*run)

    lost = [
        (last_of(f"{what}_lost", f"{what}_back") == f"{what}_lost").fill_null(value=False)
        for what in ("picture", "sound")
    ]
    return turns.with_columns(
        is_rolling=(pl.col("run") > 0) & (pl.col("event").first().over(*run) == "roll"),
        is_lost=lost[0] | lost[1],
        is_locked=(last_of("lock", "unlock") == "lock").fill_null(~pl.col("logs_lock")),
        is_unlocked=(last_of("lock", "unlock") == "unlock").fill_null(value=False),
    ).with_columns(
        is_running=pl.col("is_rolling") & pl.col("is_locked"),
    ).with_columns(
        state=pl.when(pl.col("is_running") & ~pl.col("is_lost")).then(pl.lit("good"))
        .when((pl.col("run") > 0) | pl.col("is_lost") | pl.col("is_unlocked")).then(pl.lit("not good"))
        .otherwise(pl.lit("not known"))
    )  # fmt: skip


def _join_silences(turns: pl.DataFrame, silences: pl.DataFrame) -> pl.DataFrame:
    unsaid = pl.lit(None, pl.String)
    ends = silences.filter(pl.col("end_us").is_not_null())
    words = pl.concat([
        turns.select(*BY_TIME, "state", is_silent=pl.lit(None, pl.Boolean)),
        silences.select("machine", at_us="start_us", place=pl.lit(9, pl.Int8), state=unsaid, is_silent=True),
        ends.select("machine", at_us="end_us", place=pl.lit(0, pl.Int8), state=unsaid, is_silent=False),
    ])  # fmt: skip
    state = pl.when(pl.col("is_silent").fill_null(value=False)).then(pl.lit("not known")).otherwise("state")
    return (
        words.sort(*BY_TIME)
        .with_columns(pl.col("state", "is_silent").forward_fill().over("machine"))
        .unique(("machine", "at_us"), keep="last", maintain_order=True)
        .select("machine", "at_us", state=state.fill_null("not known"))
        .filter((pl.col("state") != pl.col("state").shift(1).over("machine")).fill_null(value=True))
    )


def find_known(
    job: Job,
    events: pl.DataFrame,
    turns: pl.DataFrame,
    windows: pl.DataFrame,
    *,
    members: pl.DataFrame,
    stays: pl.DataFrame,
) -> pl.DataFrame:
    """The machines of each piece, and from when each is known there."""
    fed = stays.filter(~pl.col("feed").is_in(OFF)).select("piece", machine="feed")
    named = pl.concat([members.select("piece", "machine"), fed]).unique()
    asked = named.join(windows.select("piece", "start_us", "end_us"), on="piece")
    start = pl.col("start_us")
    known = join_last(
        asked, events.select("machine", last_us="at_us"), ("start_us", "last_us"), by="machine", coalesce=False
    )
    known = join_last(known, turns.select("machine", "at_us", "is_rolling"), ("start_us", "at_us"), by="machine")
    following = events.select("machine", next_us="at_us")
    known = join_last(
        known, following, ("start_us", "next_us"), by="machine", strategy="forward", coalesce=False,
        allow_exact_matches=False,
    )  # fmt: skip
    age = start - pl.col("last_us")
    is_known = (age <= job.lead_us) | pl.col("is_rolling") & (age <= job.carry_us)
    known_us = pl.when(is_known).then(start).otherwise("next_us")
    return known.select("piece", "machine", "start_us", "end_us", known_us=known_us)


def compare_pairs(
    job: Job, feeds: Feeds, events: pl.DataFrame, turns: pl.DataFrame, *, present: pl.DataFrame
) -> pl.DataFrame:
    """Whether two machines of a piece were in step from an instant on; null: not proved."""
    both = present.select("piece", one="machine").join(present.select("piece", two="machine"), on="piece")
    pairs = both.filter(pl.col("one") < pl.col("two")).select(PAIR).unique()
    said = _read_offsets(job, feeds, events)
    running = _find_running(turns)
    moments = pl.concat([
        pairs.join(running.select(one="machine", at_us="at_us"), on="one"),
        pairs.join(running.select(two="machine", at_us="at_us"), on="two").select(*PAIR, "at_us"),
        said.join(pairs, on=PAIR, how="semi").select(*PAIR, "at_us"),
    ]).unique()  # fmt: skip
    for name in PAIR:
        moments = join_last(
            moments, running.rename({"machine": name, "since_us": f"{name}_us"}), ("at_us", "at_us"), by=name
        )
    weighed = join_last(moments, said.with_columns(said_us="at_us"), ("at_us", "at_us"), by=PAIR)
    both_run = pl.col("one_us").is_not_null() & pl.col("two_us").is_not_null()
    is_proved = both_run & (pl.col("said_us") >= pl.max_horizontal("one_us", "two_us"))
    word = pl.when(is_proved).then("is_within")
    return (
        weighed.select(*PAIR, "at_us", is_in_step=word)
        .sort(*PAIR, "at_us")
        .filter(
            pl.col("is_in_step").ne_missing(pl.col("is_in_step").shift(1).over(PAIR))
            | pl.int_range(pl.len()).over(PAIR).eq(0)
        )
    )


def _find_running(turns: pl.DataFrame) -> pl.DataFrame:
    """Since when a machine rolls locked without a break, from an instant on; null: it does not."""
    broken = turns.with_columns(break_no=(~pl.col("is_running")).cum_sum().over("machine"))
    since = pl.when("is_running").then(pl.col("at_us").min().over("machine", "run", "break_no", "is_running"))
    return broken.select("machine", "at_us", since_us=since).unique(
        ("machine", "at_us"), keep="last", maintain_order=True
    )


def _read_offsets(job: Job, feeds: Feeds, events: pl.DataFrame) -> pl.DataFrame:
    """Whether the offset of two machines was within the tolerance, at each stamp; of equal stamps the worse."""
    names = pl.concat([frame.select("machine").unique() for frame in (events, feeds.machines, feeds.bookings)])[
        "machine"
    ]
    mates = feeds.machines.filter(pl.col("pair").is_not_null()).join(feeds.machines, on="pair", suffix="_of")
    partners = mates.filter(pl.col("machine") != pl.col("machine_of")).group_by("machine").agg(
        partner=pl.col("machine_of").first(), mates=pl.len()
    ).filter(pl.col("mates") == 1)  # fmt: skip
    offsets = events.filter((pl.col("event") == "offset") & pl.col("value").is_not_null())
    named = pl.when(pl.col("detail").is_in(names.implode()) & (pl.col("detail") != pl.col("machine"))).then("detail")
    found = offsets.join(partners, on="machine", how="left").with_columns(partner=pl.coalesce(named, "partner"))
    return (
        found.filter(pl.col("partner").is_not_null())
        .with_columns(one=pl.min_horizontal("machine", "partner"), two=pl.max_horizontal("machine", "partner"))
        .group_by(*PAIR, "at_us")
        .agg(is_within=(pl.col("value").abs() <= job.tolerance_s + 1e-9).all())
    )
