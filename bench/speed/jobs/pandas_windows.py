"""What was booked and taken, with pandas: windows, takes in their pieces, members, and what the selector was on."""

from typing import Any

import numpy as np
import pandas as pd  # type: ignore[import-untyped]

from bench.speed.jobs.job import Job
from bench.speed.jobs.pandas_feeds import Feeds
from bench.speed.jobs.pandas_machines import OFF, join_last


def find_windows(feeds: Feeds) -> pd.DataFrame:
    """Air windows, cut at the latest stamp."""
    latest = int(max(frame["at_us"].max() for frame in (feeds.events, feeds.switches) if len(frame)))
    unit = ["channel", "transmission"]
    air = feeds.bookings[feeds.bookings["role"] == "air"].sort_values([*unit, "start_us"])
    reached = air.groupby(unit)["end_us"].cummax().groupby([air["channel"], air["transmission"]]).shift(1)
    stretch = (~(air["start_us"] <= reached)).groupby([air["channel"], air["transmission"]]).cumsum()
    whole = air.groupby([*unit, stretch.rename("stretch")]).agg(
        start_us=("start_us", "min"), booked_us=("end_us", "max")
    )
    windows = whole.reset_index().query("start_us < @latest").sort_values(["channel", "start_us"], ignore_index=True)
    return windows.assign(end_us=windows["booked_us"].clip(upper=latest), piece=windows.index)


def place_takes(switches: pd.DataFrame, windows: pd.DataFrame) -> pd.DataFrame:
    """Takes and starts in order, each with the piece it falls into."""
    order = ["channel", "at_us", "from_machine", "to_machine"]
    takes = switches.sort_values(order, na_position="first", ignore_index=True).rename_axis("take").reset_index()
    pieces = windows[["channel", "piece", "transmission", "start_us", "end_us"]].rename(
        columns={"start_us": "from_us", "end_us": "until_us"}
    )
    placed = join_last(takes, pieces, ("at_us", "from_us"), by=["channel"])
    inside = placed["at_us"] < placed["until_us"]
    for name in ("piece", "transmission", "until_us"):
        placed[name] = placed[name].where(inside)
    return placed


def find_members(job: Job, bookings: pd.DataFrame, windows: pd.DataFrame, takes: pd.DataFrame) -> pd.DataFrame:
    """Which machines are of a piece and when: booked, with the lead, or named on the channel."""
    booked = bookings.loc[
        bookings["role"].isin(["air", "protect"]), ["channel", "transmission", "machine", "start_us", "end_us"]
    ]
    booked = booked.assign(start_us=booked["start_us"] - job.lead_us)
    inside = takes[takes["piece"].notna()]
    named = pd.concat([
        inside.assign(machine=inside["to_machine"], is_left=False),
        inside[inside["action"] == "take"].assign(machine=inside["from_machine"], is_left=True),
    ])[["piece", "channel", "transmission", "at_us", "until_us", "machine", "is_left"]]  # fmt: skip
    named = named[named["machine"].notna() & ~named["machine"].isin(OFF)].drop_duplicates().reset_index(drop=True)
    naming, near = _inside(named.assign(from_us=named["at_us"] - job.lead_us), booked, job.lead_us)
    asked, of = named.loc[naming].reset_index(drop=True), booked.iloc[near].reset_index(drop=True)
    other = asked["transmission"] != of["transmission"]
    now = (asked["at_us"] >= of["start_us"]) & (asked["at_us"] < of["end_us"])
    before = (of["end_us"] <= asked["at_us"]) & (of["end_us"] >= asked["at_us"] - job.lead_us)
    same = asked["channel"] == of["channel"]
    free = named.drop(index=np.unique(naming[other & now]))
    reached = free[~free["is_left"]].groupby(["piece", "machine"])["at_us"].min().rename("first_us")
    earlier = free.join(reached, on=["piece", "machine"])["first_us"] < free["at_us"]
    is_over, is_own = free.index.isin(naming[other & before & same]), free.index.isin(naming[~other & now & same])
    joined = free[~free["is_left"] | ~is_over | is_own | earlier]
    ours = windows.merge(booked, on=["channel", "transmission"], suffixes=("_of", ""))
    ours = ours[(ours["start_us"] < ours["end_us_of"]) & (ours["end_us"] > ours["start_us_of"])]
    own = joined.rename(columns={"at_us": "start_us", "until_us": "end_us"})
    members = pd.concat([frame[["piece", "machine", "start_us", "end_us"]] for frame in (ours, own)])
    return members.astype({"piece": "int64", "end_us": "int64"}).drop_duplicates()


def _inside(named: pd.DataFrame, booked: pd.DataFrame, lead_us: int) -> tuple[Any, Any]:
    """Pairs of (label of a naming, place of a booking) of one machine where the booking may matter to the naming."""
    labels, places = [np.empty(0, int)], [np.empty(0, int)]
    spots = np.arange(len(booked))
    longest = int((booked["end_us"] - booked["start_us"]).max()) if len(booked) else 0
    for machine, rows in named.groupby("machine"):
        own = spots[(booked["machine"] == machine).to_numpy()]
        own = own[np.argsort(booked["start_us"].to_numpy()[own], kind="stable")]
        starts = booked["start_us"].to_numpy()[own]
        at = rows["at_us"].to_numpy()
        found, place = spread_ranges(
            np.searchsorted(starts, at - longest - lead_us), np.searchsorted(starts, at, "right")
        )
        labels.append(rows.index.to_numpy()[found])
        places.append(own[place])
    return np.concatenate(labels), np.concatenate(places)


def spread_ranges(low: Any, high: Any) -> tuple[Any, Any]:
    """For ranges [low, high) of places: the number of the range and the place, of every place in it."""
    counts = np.maximum(high - low, 0)
    number = np.repeat(np.arange(len(low)), counts)
    within = np.arange(len(number)) - np.repeat(np.cumsum(counts) - counts, counts)
    return number, low[number] + within


def follow_selector(
    job: Job, bookings: pd.DataFrame, windows: pd.DataFrame, takes: pd.DataFrame, *, members: pd.DataFrame
) -> pd.DataFrame:
    """What each piece's selector was on from an instant on: piece, at_us, feed."""
    taken = takes[takes["action"] == "take"].sort_values("take")
    inside = taken[taken["piece"].notna()]
    first = inside.drop_duplicates("piece").set_index("piece")["from_machine"]
    by_time = taken.drop_duplicates(["channel", "at_us"], keep="last")[["channel", "at_us", "to_machine", "until_us"]]
    starts = windows[["piece", "channel", "transmission", "start_us"]]
    last = join_last(starts, by_time, ("start_us", "at_us"), by=["channel"], allow_exact_matches=False)
    fresh = (last["start_us"] - last["at_us"] <= job.lead_us) | (last["start_us"] - last["until_us"] <= job.lead_us)
    there = members.merge(starts, on="piece", suffixes=("", "_of"))
    there = there[(there["start_us"] <= there["start_us_of"]) & (there["end_us"] > there["start_us_of"])]
    fits = last["to_machine"].isin(OFF) | _keys(last, ["piece", "to_machine"]).isin(_keys(there, ["piece", "machine"]))
    left_on = last[fresh & fits].set_index("piece")["to_machine"]
    air = starts.merge(bookings[bookings["role"] == "air"], on=["channel", "transmission"], suffixes=("", "_of"))
    air = air[(air["start_us_of"] <= air["start_us"]) & (air["end_us"] > air["start_us"])]
    air_booked = (
        air.sort_values(["start_us_of", "booking"]).drop_duplicates("piece", keep="last").set_index("piece")["machine"]
    )
    piece = starts["piece"]
    feed = _first_said(piece.map(first), piece.map(left_on), piece.map(air_booked))
    begun = pd.DataFrame({"piece": piece, "at_us": starts["start_us"], "feed": feed})
    stays = pd.concat([begun, inside.rename(columns={"to_machine": "feed"})[["piece", "at_us", "feed"]]])
    return stays.astype({"piece": "int64"}).drop_duplicates(["piece", "at_us"], keep="last")


def _first_said(*columns: Any) -> Any:
    """The first value of each row that is there; a column without any is of another kind and is cast."""
    first, *others = (column.astype("str") for column in columns)
    for other in others:
        first = first.where(first.notna(), other)
    return first


def _keys(frame: pd.DataFrame, names: list[str]) -> Any:
    return pd.MultiIndex.from_frame(frame[names].set_axis(["a", "b"], axis=1)).to_series(index=frame.index)
