"""Faults at playback in a room small enough to work by hand, and what they say of players, recorders and reels."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.measure.patterns import find_patterns
from pipeline.measure.transports.recording.effects import (
    chance_to_find_players,
    chance_to_find_recorders,
    inseparable_groups,
)
from pipeline.measure.transports.recording.findings import judge_recording
from pipeline.measure.transports.recording.judging import (
    elsewhere_and_own,
    more_than_others,
    names_of,
    own_ratio,
    player_ratio,
    players_on_same_reels,
    run_tests,
    shared_turns,
)
from pipeline.measure.transports.recording.measuring import count_faults, measure_recording, with_pseudonyms
from pipeline.measure.transports.recording.reading import read_faults_at_playback, read_playback
from pipeline.measure.transports.recording.units import labelled, reels_of, spread_of, strata_of
from pipeline.model import build_models
from pipeline.store import Store
from tests.render.small_room import SETTINGS, Log, at, write_tables

START = at("02-10 10:00:00")


def booked(booking: str, machine: str, role: str, reel: str, minutes: tuple[int, int]) -> dict[str, Any]:
    begin, end = (START + timedelta(minutes=minute) for minute in minutes)
    return {
        "booking": booking, "transmission": "TX", "channel": "One", "programme": "Moss", "show": "part 1",
        "reel": reel, "machine": machine, "role": role, "started_at_utc": begin, "ended_at_utc": end,
    }  # fmt: skip


def small_playback() -> Log:
    """An hour: T1 on air with K1 and then K2, T2 behind it with K9; T3 runs without a booking."""
    log = Log()
    log.rows["bookings"] += [
        booked("B1", "T1", "air", "K1", (0, 30)),
        booked("B2", "T1", "air", "K2", (30, 60)),
        booked("B3", "T2", "protect", "K9", (0, 60)),
    ]
    for machine in ("T1", "T2", "T3"):
        log.event(START - timedelta(seconds=30), machine, "roll")
        log.event(START - timedelta(seconds=26), machine, "lock")
        log.event(START + timedelta(seconds=3601), machine, "stop")
    faults = [
        ("T1", 600, 20, "picture_lost", "picture_back"),
        ("T1", 900, 10, "picture_lost", "picture_back"),  # 300 s after the one before, same reel: the same fault
        ("T2", 1200, 30, "unlock", "lock"),
        ("T1", 2700, 5, "sound_lost", "sound_back"),  # on both copies within 5 s
        ("T2", 2702, 4, "sound_lost", "sound_back"),
        ("T1", 3000, 1, "picture_lost", "picture_back"),
        ("T3", 300, 9, "picture_lost", "picture_back"),  # not booked to play
    ]
    for machine, begin, lasts, lost, back in faults:
        log.event(START + timedelta(seconds=begin), machine, lost)
        log.event(START + timedelta(seconds=begin + lasts), machine, back)
    log.rows["reels"] += [
        {"reel": "K1", "recorded_on": "T2", "recorded_by": "Someone Real"},
        {"reel": "K2", "recorded_on": "T1", "recorded_by": "Another"},
    ]
    return log


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with Store(Path(":memory:")) as opened:
        write_tables(opened, small_playback())
        build_models(opened)
        find_patterns(opened, SETTINGS)
        yield opened


def test_hours_and_faults_of_every_cell(store: Store) -> None:
    """Good time: T1 with K1 1800 − 20 − 10 s, with K2 1800 − 5 − 1 − 1 s; T2 with K9 3600 − 30 − 4 s.

    T1's clock runs 2 s ahead in this room, so that its stop of 11:00:01 was at 10:59:59.
    """
    cells = read_playback(store, read_faults_at_playback(store))
    rows = {(row["machine"], row["reel"], row["role"]): row for row in cells.to_dicts()}
    assert {key: round(row["exposure_h"] * 3600, 6) for key, row in rows.items()} == {
        ("T1", "K1", "air"): 1770, ("T1", "K2", "air"): 1793, ("T2", "K9", "protect"): 3566,
    }  # fmt: skip
    assert [(row["count"], row["air_count"]) for row in rows.values()] == [(1, 1), (1, 1), (1, 0)]
    assert [row["recorder"] for row in rows.values()] == ["T2", "T1", None]


def test_every_onset_ends_in_one_place(store: Store) -> None:
    faults = read_faults_at_playback(store)
    told = count_faults(faults, read_playback(store, faults))
    assert told["onsets_count"] == 7
    parts = [told[name] for name in ("not_booked_count", "common_count", "repeated_count", "counted_count")]
    assert parts == [1, 2, 1, 3]
    assert told["air_count"] == 2
    assert (told["no_label_count"], told["no_reel_count"]) == (1, 0)
    assert told["no_label_h"] * 3600 == pytest.approx(3566)


def test_who_recorded_is_told_by_pseudonym_unless_the_site_shows_persons(store: Store) -> None:
    found = measure_recording(store, SETTINGS, {})
    assert [row["recordist"] for row in found["recordists"]] == ["recordist 1", "recordist 2"]
    assert "Real" not in json.dumps(found, allow_nan=False)
    shown = measure_recording(store, replace(SETTINGS, show_persons=True), {})
    assert [row["recordist"] for row in shown["recordists"]] == ["Another", "Someone Real"]
    assert store.value("select count(*) from measure_playback_faults") == 7
    assert store.value("select count(*) from measure_playback") == 3


def test_pseudonyms_follow_the_order_of_reels() -> None:
    labels = pl.DataFrame({"reel": ["K1", "K2", "K3"], "recorded_by": ["zeta", None, "alpha"]})
    cells = pl.DataFrame({"recorded_by": ["alpha", None, "zeta", "zeta"]})
    assert with_pseudonyms(cells, labels)["recorded_by"].to_list() == [
        "recordist 2",
        None,
        "recordist 1",
        "recordist 1",
    ]


Cell = tuple[str, str, str, float, int]


def cells_of(*cells: Cell, role: str = "air") -> pl.DataFrame:
    """Cells by machine, reel, recorder, hours and faults."""
    return pl.DataFrame(
        [
            {"machine": m, "reel": r, "role": role, "recorder": on, "recorded_by": "crew", "exposure_h": h, "count": n}
            for m, r, on, h, n in cells
        ],
        schema_overrides={"reel": pl.String, "recorder": pl.String, "exposure_h": pl.Float64},
    )


def test_a_player_against_the_others_on_the_same_reels() -> None:
    """K1: both faults on P1, which had 1 of 4 hours: (1/4)². K2 was on P1 alone and says nothing."""
    turns = shared_turns(cells_of(("P1", "K1", "R1", 1, 2), ("P2", "K1", "R1", 3, 0), ("P1", "K2", "R1", 5, 9)))
    assert players_on_same_reels(turns) == {"P1": pytest.approx(1 / 16), "P2": pytest.approx(1.0)}
    row = player_ratio(turns, "P1")
    assert (row["count"], row["reels_count"], row["shared_count"], row["ratio"]["value"]) == (11, 2, 1, None)


def test_the_same_reel_in_another_role_is_another_turn() -> None:
    air, protect = cells_of(("P1", "K1", "R1", 1, 2)), cells_of(("P2", "K1", "R1", 3, 0), role="protect")
    assert players_on_same_reels(shared_turns(pl.concat([air, protect]))) == {"P1": None, "P2": None}


def test_expected_is_what_the_players_would_bring() -> None:
    """P1 10 faults in 100 h, P2 5 in 100 h: 2 h and 1 h of K1 make 0.2 + 0.05."""
    cells = cells_of(
        ("P1", "K1", "R1", 2, 0), ("P2", "K1", "R1", 1, 1), ("P1", "K2", "R2", 98, 10), ("P2", "K3", "R2", 99, 4)
    )
    reels = reels_of(labelled(cells))
    assert reels.reels == ["K1", "K2", "K3"]
    assert reels.expected.tolist() == pytest.approx([0.25, 9.8, 4.95])
    assert float(reels.expected.sum()) == pytest.approx(15)


def test_spread_by_moments() -> None:
    # ((0 − 2)² − 0 + (4 − 2)² − 4) / (4 + 4) = 1/2; and counts closer than luck have none.
    assert spread_of(np.array([0.0, 4.0]), np.array([2.0, 2.0])) == 0.5
    assert spread_of(np.array([2.0, 2.0]), np.array([2.0, 2.0])) == 0.0


def test_strata_are_of_like_use() -> None:
    strata = strata_of(np.arange(80.0)[::-1], ["a"] * 80)
    assert strata[:40] == ["1 of a"] * 40
    assert strata[40:] == ["0 of a"] * 40
    assert set(strata_of(np.arange(79.0), ["a"] * 79)) == {"0 of a"}
    assert strata_of(np.array([1.0, 2.0]), ["a", "b"]) == ["0 of a", "0 of b"]


def test_tapes_elsewhere_against_on_their_own_recorder() -> None:
    """K1, recorded on R1: both faults on P2, none on R1 itself. K2, another's: one on each. Equal hours everywhere.

    Of the four faults three fell on P2; given that, both of K1's are among them in 1 × 2 of C(4, 3) = 4 ways.
    """
    cells = labelled(cells_of(
        ("P2", "K1", "R1", 3, 2), ("R1", "K1", "R1", 3, 0), ("P2", "K2", "X", 3, 1), ("R1", "K2", "X", 3, 1),
    ))  # fmt: skip
    found = elsewhere_and_own(cells, "R1")
    row = own_ratio(cells, "R1", found)
    assert (row["own_count"], row["own_h"], row["other_count"], row["other_h"]) == (0, 3.0, 2, 3.0)
    assert row["ratio"]["value"] is None
    assert found.p == pytest.approx(2 / 4)
    assert {(test.kind, test.name): test.p for test in run_tests(cells)}["own", "R1"] == pytest.approx(2 / 4)
    sides = pl.DataFrame({"count": [3], "exposure_h": [3.0], "other_count": [0], "other_h": [1.0]})
    assert more_than_others(sides) == pytest.approx((3 / 4) ** 3)


def test_tapes_that_play_well_on_their_own_recorder_only() -> None:
    """R1's tapes never fail on R1 and always elsewhere; other tapes fail everywhere alike."""
    cells = cells_of(*[
        (player, f"K{number:02}", recorder, 5.0, 0 if player == recorder == "R1" else 1)
        for number in range(24)
        for recorder in (("R1", "X")[number % 2],)
        for player in ("R1", "P2", "P3")
    ])  # fmt: skip
    assert ("own", "R1") in names_of(run_tests(cells))


def planted(faults: dict[str, int]) -> pl.DataFrame:
    """Forty reels, ten a recorder, each ten hours on each of three players; faults a reel by recorder, in turn."""
    cells, turn = [], 0
    for number in range(40):
        recorder, counts = f"R{number % 4}", [0, 0, 0]
        for _ in range(faults[f"R{number % 4}"]):
            counts[turn % 3] += 1
            turn += 1
        cells += [(f"P{place}", f"K{number:02}", recorder, 10.0, count) for place, count in enumerate(counts)]
    return cells_of(*cells)


def test_a_planted_recorder_is_named_and_the_players_are_cleared() -> None:
    """Four faults a reel against one. All ten worst reels fall to one name in one of 847,660,528 deals (40 over 10)."""
    cells = planted({"R0": 1, "R1": 4, "R2": 1, "R3": 1})
    tests = run_tests(cells)
    p = {(test.kind, test.name): test.p for test in tests}
    assert p["recorder", "R1"] == pytest.approx(1 / 847_660_528, rel=1e-6)
    assert names_of(tests) == {("recorder", "R1")}
    found = judge_recording(cells)
    assert [row["machine"] for row in found["recorders"] if row["is_named"]] == ["R1"]
    assert found["names_count"] == {"players": 3, "recorders": 4, "recordists": 1}
    assert all(row["is_cleared"] for row in found["players"])
    ratio = found["recorders"][1]["ratio"]
    assert 2 < ratio["low"] < ratio["value"] <= 4 < ratio["high"]
    assert [row["count"] for row in found["recorders"]] == [10, 40, 10, 10]
    assert sum(cell["count"] for cell in found["cells"]) == 70
    json.dumps(found, allow_nan=False)


def test_one_bad_reel_names_nobody() -> None:
    cells = planted({"R0": 1, "R1": 1, "R2": 1, "R3": 1})
    worse = pl.when(pl.col("reel") == "K01").then(20).otherwise(0)
    cells = cells.with_columns((pl.col("count") + worse).cast(pl.Int64))
    assert names_of(run_tests(cells)) == set()
    found = judge_recording(cells)
    assert found["reels"][0]["reel"] == "K01"
    assert found["spread"]["is_named"]


def test_a_bad_player_is_named_and_its_tapes_are_not() -> None:
    """Six faults a reel on P0 to one on each of the others: 40 reels of one recorder or another."""
    cells = cells_of(*[
        (f"P{place}", f"K{number:02}", f"R{number % 4}", 10.0, 6 if place == 0 else 1)
        for number in range(40) for place in range(3)
    ])  # fmt: skip
    assert names_of(run_tests(cells)) == {("player", "P0")}


def test_what_met_nobody_else_is_inseparable() -> None:
    cells = planted({"R0": 1, "R1": 1, "R2": 1, "R3": 1})
    alone = cells_of(("P9", "K90", "R9", 10, 8), ("P9", "K91", "R9", 10, 7))
    groups = inseparable_groups(labelled(pl.concat([cells, alone])))
    assert [(row["players"], row["recorders"], row["is_cut_off"]) for row in groups] == [
        (["P0", "P1", "P2"], ["R0", "R1", "R2", "R3"], True),
        (["P9"], ["R9"], True),
    ]
    # 15 faults in 20 h against 40 in 1,200 h.
    assert (groups[1]["count"], groups[1]["exposure_h"]) == (15, 20.0)
    assert groups[1]["ratio"]["value"] == pytest.approx((15 / 20) / (40 / 1200))
    assert ("recorder", "R9") not in names_of(run_tests(pl.concat([cells, alone])))


def test_the_chance_to_find_a_player_grows_with_its_faults() -> None:
    few, many = (shared_turns(planted(dict.fromkeys(("R0", "R1", "R2", "R3"), faults))) for faults in (1, 6))
    one, other = (chance_to_find_players(turns, ["P0"], 8)["P0"] for turns in (few, many))
    assert 0 < one < other <= 1


def test_the_chance_to_find_a_recorder_grows_with_its_faults_and_is_the_same_again() -> None:
    few, many = (labelled(planted(dict.fromkeys(("R0", "R1", "R2", "R3"), faults))) for faults in (1, 6))
    one, other = chance_to_find_recorders(few, 8), chance_to_find_recorders(many, 8)
    assert list(one) == ["R0", "R1", "R2", "R3"]
    assert all(0 < one[name] < other[name] for name in one)
    assert chance_to_find_recorders(few, 8) == one
    assert chance_to_find_recorders(few, 0) == {}


def test_a_recorder_of_tapes_for_air_is_not_blamed_for_the_role() -> None:
    """A machine on air is watched: two faults a reel, whoever recorded it; none as protect."""
    air, protect = (
        cells_of(*[(f"P{number % 3}", f"{role}{number:02}", on, 10.0, count) for number in range(30)], role=role)
        for role, on, count in (("air", "R1", 2), ("protect", "R2", 0))
    )
    assert names_of(run_tests(pl.concat([air, protect]))) == set()
    blind = pl.concat([air, protect.with_columns(pl.lit("air").alias("role"))])
    assert names_of(run_tests(blind)) == {("recorder", "R1")}


def test_nothing_played_and_nothing_failed() -> None:
    quiet = judge_recording(planted(dict.fromkeys(("R0", "R1", "R2", "R3"), 0)))
    assert quiet["tests_count"] == 0
    assert [row["p"] for row in (*quiet["players"], *quiet["recorders"])] == [None] * 7
    assert not any(row["is_cleared"] for row in quiet["players"])
    empty = judge_recording(planted(dict.fromkeys(("R0", "R1", "R2", "R3"), 0)).clear())
    assert (empty["players"], empty["recorders"], empty["cells"]) == ([], [], [])
    unlabelled = judge_recording(cells_of(("P1", "K1", None, 1, 1), ("P2", "K1", None, 1, 1)))  # type: ignore[arg-type]
    assert unlabelled["recorders"] == []
    assert [row["p"] for row in unlabelled["players"]] == [pytest.approx(0.75)] * 2
