"""What each machine did, with pandas: its states, since when it is known in a piece, whether two were in step."""

from typing import Any

import numpy as np
import pandas as pd  # type: ignore[import-untyped]

from bench.speed.jobs.job import Job
from bench.speed.jobs.pandas_feeds import Feeds

OFF = ("standby", "other")
BY_TIME = ["machine", "at_us", "place"]
PAIR = ["one", "two"]


def join_last(
    left: pd.DataFrame, right: pd.DataFrame, on: tuple[str, str], *, by: list[str], **how: Any
) -> pd.DataFrame:
    """The last row of the right at or before each row of the left; a frame without rows has columns of any kind."""
    earlier, later = left.sort_values(on[0], kind="stable"), right.sort_values(on[1], kind="stable")
    later = later.astype({name: earlier[name].dtype for name in by})
    return pd.merge_asof(earlier, later, left_on=on[0], right_on=on[1], by=by, **how)


def find_states(job: Job, events: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What each turn leaves its machine in, and each machine's state from an instant on."""
    by_machine = events.groupby("machine", sort=False)
    heard = by_machine["at_us"].shift(1)
    turns = events.assign(heard_us=heard)[events["place"] < 7].copy()
    moved = turns["event"].where(turns["event"].isin(["roll", "stop"]))
    turns["was"] = moved.groupby(turns["machine"]).ffill().groupby(turns["machine"]).shift(1)
    carried = (turns["was"] == "roll") & (turns["at_us"] - turns["heard_us"] <= job.carry_us)
    begins = (turns["event"] == "stop") | (turns["event"] == "roll") & ~carried
    turns["run"] = begins.astype(int).groupby(turns["machine"]).cumsum()
    locks = set(events.loc[events["event"] == "lock", "machine"].unique())
    talkers = set(events.loc[events["event"] == "alive", "machine"].unique())
    _hold(turns, locks)
    words = pd.DataFrame({
        "machine": events["machine"], "start_us": events["at_us"] + job.silence_us,
        "end_us": by_machine["at_us"].shift(-1),
    })  # fmt: skip
    silent = words["machine"].isin(talkers) & (words["end_us"].isna() | (words["end_us"] > words["start_us"]))
    return turns, _join_silences(turns, words[silent])


def _hold(turns: pd.DataFrame, locks: set[str]) -> None:
    """Add to each turn whether its machine then rolls, runs (rolls locked), and its state."""
    runs = [turns["machine"], turns["run"]]

    def last_of(*words: str) -> "pd.Series[str]":
        return turns["event"].where(turns["event"].isin(words)).groupby(runs).ffill()

    is_lost = (last_of("picture_lost", "picture_back") == "picture_lost") | (
        last_of("sound_lost", "sound_back") == "sound_lost"
    )
    locked = last_of("lock", "unlock")
    is_locked = (locked == "lock") | locked.isna() & ~turns["machine"].isin(locks)
    turns["is_rolling"] = (turns["run"] > 0) & (turns.groupby(["machine", "run"])["event"].transform("first") == "roll")
    turns["is_running"] = turns["is_rolling"] & is_locked
    bad = (turns["run"] > 0) | is_lost | (locked == "unlock")
    turns["state"] = np.select([turns["is_running"] & ~is_lost, bad], ["good", "not good"], "not known")


def _join_silences(turns: pd.DataFrame, silences: pd.DataFrame) -> pd.DataFrame:
    ends = silences[silences["end_us"].notna()]
    words = pd.concat([
        turns[[*BY_TIME, "state"]],
        pd.DataFrame({"machine": silences["machine"], "at_us": silences["start_us"], "place": 9, "silent": 1.0}),
        pd.DataFrame({"machine": ends["machine"], "at_us": ends["end_us"].astype("int64"), "place": 0, "silent": 0.0}),
    ]).sort_values(BY_TIME)  # fmt: skip
    if "silent" not in words:
        words["silent"] = 0.0
    words[["state", "silent"]] = words.groupby("machine")[["state", "silent"]].ffill()
    words["state"] = words["state"].where(words["silent"].fillna(0) == 0).fillna("not known")
    last = words.drop_duplicates(["machine", "at_us"], keep="last")
    changed = last["state"] != last.groupby("machine")["state"].shift(1)
    return last.loc[changed, ["machine", "at_us", "state"]]


def find_known(
    job: Job,
    events: pd.DataFrame,
    turns: pd.DataFrame,
    windows: pd.DataFrame,
    *,
    members: pd.DataFrame,
    stays: pd.DataFrame,
) -> pd.DataFrame:
    """The machines of each piece, and from when each is known there."""
    fed = stays[~stays["feed"].isin(OFF)].rename(columns={"feed": "machine"})
    named = pd.concat([members[["piece", "machine"]], fed[["piece", "machine"]]]).drop_duplicates()
    asked = named.merge(windows[["piece", "start_us", "end_us"]], on="piece")
    words = events[["machine", "at_us"]]
    known = join_last(asked, words.rename(columns={"at_us": "last_us"}), ("start_us", "last_us"), by=["machine"])
    rolling = turns.sort_values(["at_us", "place"])[["machine", "at_us", "is_rolling"]]
    known = join_last(known, rolling, ("start_us", "at_us"), by=["machine"])
    following = words.rename(columns={"at_us": "next_us"})
    known = join_last(
        known, following, ("start_us", "next_us"), by=["machine"], direction="forward", allow_exact_matches=False
    )
    age = known["start_us"] - known["last_us"]
    is_known = (age <= job.lead_us) | known["is_rolling"].eq(other=True) & (age <= job.carry_us)
    known["known_us"] = known["start_us"].where(is_known, known["next_us"])
    return known[["piece", "machine", "start_us", "end_us", "known_us"]]


def compare_pairs(
    job: Job, feeds: Feeds, events: pd.DataFrame, turns: pd.DataFrame, *, present: pd.DataFrame
) -> pd.DataFrame:
    """Whether two machines of a piece were in step from an instant on; null: not proved."""
    pairs = pair_up(present)[PAIR].drop_duplicates()
    said, running = _read_offsets(job, feeds, events), _find_running(turns)
    moments = pd.concat([
        pairs.merge(running[["machine", "at_us"]], left_on="one", right_on="machine")[[*PAIR, "at_us"]],
        pairs.merge(running[["machine", "at_us"]], left_on="two", right_on="machine")[[*PAIR, "at_us"]],
        said.merge(pairs, on=PAIR)[[*PAIR, "at_us"]],
    ]).drop_duplicates()  # fmt: skip
    for name in PAIR:
        since = running.rename(columns={"machine": name, "since_us": f"{name}_us"})
        moments = join_last(moments, since, ("at_us", "at_us"), by=[name])
    weighed = join_last(moments, said.assign(said_us=said["at_us"]), ("at_us", "at_us"), by=PAIR)
    both_run = weighed["one_us"].notna() & weighed["two_us"].notna()
    is_proved = both_run & (weighed["said_us"] >= weighed[["one_us", "two_us"]].max(axis=1))
    weighed["word"] = weighed["word"].where(is_proved, "not proved")
    weighed = weighed.sort_values([*PAIR, "at_us"])
    return weighed.loc[weighed["word"] != weighed.groupby(PAIR)["word"].shift(1), [*PAIR, "at_us", "word"]]


def pair_up(present: pd.DataFrame) -> pd.DataFrame:
    both = present.rename(columns={"machine": "one"}).merge(
        present[["piece", "machine"]].rename(columns={"machine": "two"}), on="piece"
    )
    return both[both["one"] < both["two"]]


def _find_running(turns: pd.DataFrame) -> pd.DataFrame:
    """Since when a machine rolls locked without a break, from an instant on; null: it does not."""
    broken = turns.assign(break_no=(~turns["is_running"]).groupby(turns["machine"]).cumsum())
    began = broken.groupby(["machine", "run", "break_no", "is_running"])["at_us"].transform("min")
    broken["since_us"] = began.where(broken["is_running"])
    return broken.drop_duplicates(["machine", "at_us"], keep="last")[["machine", "at_us", "since_us"]]


def _read_offsets(job: Job, feeds: Feeds, events: pd.DataFrame) -> pd.DataFrame:
    """Whether the offset of two machines was within the tolerance, at each stamp; of equal stamps the worse."""
    names = {name for frame in (events, feeds.machines, feeds.bookings) for name in frame["machine"].unique()}
    paired = feeds.machines[feeds.machines["pair"].notna()]
    mates = paired.merge(paired, on="pair", suffixes=("", "_of")).query("machine != machine_of")
    partners = mates.drop_duplicates("machine", keep=False).set_index("machine")["machine_of"]
    offsets = events[(events["event"] == "offset") & events["value"].notna()]
    named = offsets["detail"].where(offsets["detail"].isin(names) & (offsets["detail"] != offsets["machine"]))
    partner = named.fillna(offsets["machine"].map(partners))
    found = offsets.assign(partner=partner)[partner.notna()]
    is_first = found["machine"] < found["partner"]
    found = found.assign(
        one=found["machine"].where(is_first, found["partner"]), two=found["partner"].where(is_first, found["machine"]),
        is_out=found["value"].abs() > job.tolerance_s + 1e-9,
    )  # fmt: skip
    worst = found.groupby([*PAIR, "at_us"], as_index=False)["is_out"].max()
    return worst.assign(word=np.where(worst["is_out"], "out of step", "in step"))[[*PAIR, "at_us", "word"]]
