"""The job with pandas (and numpy, which it stands on); `python -m bench.speed.jobs.with_pandas SITE`."""

import numpy as np
import pandas as pd  # type: ignore[import-untyped]

from bench.speed.jobs.job import Job, asked_job, print_answer
from bench.speed.jobs.pandas_feeds import read_feeds
from bench.speed.jobs.pandas_machines import (
    BY_TIME,
    OFF,
    PAIR,
    compare_pairs,
    find_known,
    find_states,
    join_last,
    pair_up,
)
from bench.speed.jobs.pandas_windows import find_members, find_windows, follow_selector, place_takes, spread_ranges


def main() -> None:
    job = asked_job()
    feeds = read_feeds(job)
    events = feeds.events.sort_values(BY_TIME, kind="stable")
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
    windows: pd.DataFrame, members: pd.DataFrame, stays: pd.DataFrame, present: pd.DataFrame, *,
    states: pd.DataFrame, steps: pd.DataFrame,
) -> pd.DataFrame:  # fmt: skip
    """Each slice of a piece in which nothing changes: piece, start_us, end_us, feed, state."""
    slices = _cut(windows, members, stays, present, states=states, steps=steps)
    there = slices.merge(present[["piece", "machine", "known_us"]], on="piece")
    judged = join_last(there, states, ("start_us", "at_us"), by=["machine"]).drop(columns="at_us")
    judged["state"] = judged["state"].where(judged["known_us"] <= judged["start_us"]).fillna("not known")
    of_it = judged[["piece", "start_us", "machine"]].merge(members, on=["piece", "machine"], suffixes=("", "_of"))
    of_it = of_it[(of_it["start_us_of"] <= of_it["start_us"]) & (of_it["end_us"] > of_it["start_us"])]
    named = of_it[["piece", "start_us", "machine"]].drop_duplicates().assign(is_member=True)
    judged = judged.merge(named, on=["piece", "start_us", "machine"], how="left")
    judged["is_member"] = judged["is_member"].eq(other=True)
    own = judged.loc[judged["machine"] == judged["feed"], ["piece", "start_us", "state", "is_member"]]
    air = slices.merge(own, on=["piece", "start_us"], how="left")
    air = air.merge(_protect(judged, steps), on=["piece", "start_us"], how="left")
    cases = [
        (air["feed"] == "other", "off air"),
        ((air["feed"] == "standby") | (air["state"] == "not good"), "lost"),
        (air["state"] != "good", "unknown"),
        (~air["is_member"].eq(other=True), "exposed"),
        (air["is_covered"].eq(other=True), "covered"),
        (air["is_unproved"].eq(other=True), "unproved"),
    ]
    return air.assign(state=np.select([case for case, _ in cases], [state for _, state in cases], "exposed"))


def _protect(judged: pd.DataFrame, steps: pd.DataFrame) -> pd.DataFrame:
    others = judged[judged["is_member"] & (judged["machine"] != judged["feed"]) & ~judged["feed"].isin(OFF)]
    is_first = others["feed"] < others["machine"]
    others = others.assign(
        one=others["feed"].where(is_first, others["machine"]), two=others["machine"].where(is_first, others["feed"])
    )
    proved = join_last(others, steps, ("start_us", "at_us"), by=PAIR)
    good, word = proved["state"] == "good", proved["word"].fillna("not proved")
    proved["is_covered"] = good & (word == "in step")
    proved["is_unproved"] = (proved["state"] == "not known") | good & (word == "not proved")
    return proved.groupby(["piece", "start_us"], as_index=False)[["is_covered", "is_unproved"]].max()


def _cut(
    windows: pd.DataFrame, members: pd.DataFrame, stays: pd.DataFrame, present: pd.DataFrame, *,
    states: pd.DataFrame, steps: pd.DataFrame,
) -> pd.DataFrame:  # fmt: skip
    named = ["piece", "at_us"]
    known = present.rename(columns={"known_us": "at_us"})
    known = known[(known["at_us"] > known["start_us"]) & (known["at_us"] < known["end_us"])]
    points = pd.concat([
        stays[named],
        _within(present, states, ["machine"]),
        known[named],
        members.rename(columns={"start_us": "at_us"})[named],
        members.rename(columns={"end_us": "at_us"})[named],
        _within(pair_up(present), steps, PAIR),
    ]).astype("int64").drop_duplicates()  # fmt: skip
    held = points.merge(windows[["piece", "start_us", "end_us"]], on="piece")
    held = held[(held["at_us"] >= held["start_us"]) & (held["at_us"] < held["end_us"])].sort_values(named)
    following = held.groupby("piece")["at_us"].shift(-1).fillna(held["end_us"]).astype("int64")
    slices = pd.DataFrame({"piece": held["piece"], "start_us": held["at_us"], "end_us": following})
    return join_last(slices, stays, ("start_us", "at_us"), by=["piece"]).drop(columns="at_us")


def _within(pieces: pd.DataFrame, changes: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """The changes strictly inside each piece, of the machine or pair that ``names`` tell."""
    told = {key: np.sort(rows["at_us"].to_numpy()) for key, rows in changes.groupby(names)}
    found = []
    for key, rows in pieces.groupby(names):
        at = told.get(key, np.empty(0, np.int64))
        low, high = np.searchsorted(at, rows["start_us"], "right"), np.searchsorted(at, rows["end_us"], "left")
        number, place = spread_ranges(low, high)
        found.append(pd.DataFrame({"piece": rows["piece"].to_numpy()[number], "at_us": at[place]}))
    return pd.concat(found) if found else pd.DataFrame({"piece": [], "at_us": []}, dtype="int64")


def take_off_early_ends(
    job: Job, air: pd.DataFrame, windows: pd.DataFrame, events: pd.DataFrame, takes: pd.DataFrame
) -> pd.DataFrame:
    """The slices without those after a programme ended early without being lost."""
    whole = windows[windows["end_us"] == windows["booked_us"]]
    sound = air[air["state"] != "lost"].groupby("piece")["end_us"].max()
    tail = whole["piece"].map(sound).fillna(whole["start_us"]).astype("int64")
    late = whole.assign(start_us=tail)[(tail >= whole["end_us"] - job.tail_us) & (tail < whole["end_us"])]
    feeds = late[["piece", "channel", "start_us"]].merge(air[["piece", "start_us", "feed"]], on=["piece", "start_us"])
    stops = events.loc[events["event"] == "stop", ["machine", "at_us"]].set_axis(["feed", "start_us"], axis=1)
    planned = takes.loc[(takes["to_machine"] == "standby") & (takes["reason"] == "planned"), ["channel", "at_us"]]
    planned = planned.set_axis(["channel", "start_us"], axis=1).assign(feed="standby")
    early = pd.concat([
        feeds.merge(stops, on=["feed", "start_us"]), feeds.merge(planned, on=["channel", "start_us", "feed"]),
    ]).drop_duplicates("piece").set_index("piece")["start_us"]  # fmt: skip
    ended = air["piece"].map(early)
    return air[ended.isna() | (air["start_us"] < ended)]


def add_up(job: Job, air: pd.DataFrame, windows: pd.DataFrame) -> list[tuple[str, str, int]]:
    """Microseconds by month and state."""
    if windows.empty:
        return []
    sums: list[tuple[str, str, int]] = []
    for month, start, end in job.months(int(windows["start_us"].min()), int(windows["end_us"].max())):
        inside = air[(air["start_us"] < end) & (air["end_us"] > start) & (air["state"] != "off air")]
        length = inside["end_us"].clip(upper=end) - inside["start_us"].clip(lower=start)
        sums += [(month, str(state), int(total)) for state, total in length.groupby(inside["state"]).sum().items()]
    return sums


if __name__ == "__main__":
    main()
