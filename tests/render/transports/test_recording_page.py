"""The page on recordings: sentences that keep to what was found, a two-way table that adds up, nothing hidden."""

from __future__ import annotations

from typing import Any

from pipeline.render.reading import Reading
from pipeline.render.transports.recording_apart import cut_off
from pipeline.render.transports.recording_chart import MOST_LINES, ratio_rows
from pipeline.render.transports.recording_counts import not_known
from pipeline.render.transports.recording_page import MOST_ACROSS, MOST_ROWS, REST, crossed, shown
from pipeline.render.transports.recording_page import recording_sheets as sheets
from pipeline.render.transports.recording_ratios import ratio_text, said, times_text
from pipeline.render.transports.recording_words import opening
from tests.render.conftest import Rendered


def ratio(value: float | None, low: float | None, high: float | None) -> dict[str, float | None]:
    return {"value": value, "low": low, "high": high}


def player(name: str, **more: Any) -> dict[str, Any]:
    return {
        "machine": name, "count": 9, "exposure_h": 100.0, "ratio": ratio(1.1, 0.7, 1.6), "p": 0.4, "adjusted_p": 1.0,
        "is_named": False, "is_cleared": True, "found_ratio": 0.5, "evened": ratio(1.0, 0.8, 1.2), **more,
    }  # fmt: skip


def recorder(name: str, **more: Any) -> dict[str, Any]:
    own = {"ratio": ratio(1.0, 0.5, 2.0), "adjusted_p": 1.0, "is_named": False}
    row = {"reels_count": 60, "players_count": 6, "ratio": ratio(0.9, 0.6, 1.4), "found_ratio": 0.75, "own": own}
    return player(name) | row | more


def found(**more: Any) -> dict[str, Any]:
    faults = {
        "onsets_count": 20, "not_booked_count": 0, "common_count": 0, "repeated_count": 0, "counted_count": 20,
        "air_count": 5, "played_h": 500.0, "no_reel_count": 0, "no_reel_h": 0.0, "no_label_count": 0, "no_label_h": 0.0,
    }  # fmt: skip
    return {
        "faults": faults, "level": 0.05, "times_worse": 3.0, "tests_count": 9,
        "names_count": {"players": 2, "recorders": 2, "recordists": 0}, "players": [player("P1"), player("P2")],
        "recorders": [recorder("R1"), recorder("R2")], "recordists": [], "reels": [], "reels_count": 120,
        "spread": {"is_named": False, "p": 0.5, "adjusted_p": 1.0, "left_out_count": 0}, "inseparable": [],
        "cells": [{"player": "P1", "recorder": "R1", "count": 20, "exposure_h": 500.0}], **more,
    }  # fmt: skip


NAMED: dict[str, Any] = {"is_named": True, "adjusted_p": 0.0004, "ratio": ratio(3.2, 2.5, 4.1)}


def test_a_recorder_that_is_named_and_players_that_are_cleared() -> None:
    told = opening(found(recorders=[recorder("R1"), recorder("R2", **NAMED)]))
    assert told[0] == (
        "Faults follow the recorder R2: its tapes fail 3.20 times (2.50 to 4.10) as often as those of the other "
        "recorders, with the players allowed for, on the 6 machines that played them (9 faults on 60 reels; adjusted p "
        "below 0.001)."
    )
    assert told[1] == (
        "The playing machines are cleared: on the same reels none of them fails more often than the others beyond what "
        "luck gives (the highest upper limit is 1.60 times on shared reels alone, the model of all reels together "
        "gives 1.20 times)."
    )
    assert len(told) == 2


def test_a_player_that_is_not_cleared_is_told() -> None:
    bad = [recorder("R2", **NAMED)]
    told = opening(found(recorders=bad, players=[player("P1", is_cleared=False), player("P2")]))
    assert told[1] == (
        "Of the playing machines P1 is not cleared, the others are (the highest upper limit is 1.60 times on shared "
        "reels alone, the model of all reels together gives 1.20 times)."
    )
    unbounded = player("P2", ratio=ratio(None, 0.4, None), evened=None)
    told = opening(found(recorders=bad, players=[unbounded]))
    assert told[1].endswith("beyond what luck gives (shared reels alone give no upper limit).")
    told = opening(found(recorders=bad, players=[player("P1", p=None, adjusted_p=None, is_cleared=False)]))
    assert told[1] == "The playing machines are not cleared: none shares a faulty reel with another."
    told = opening(found(recorders=bad, players=[player("P1"), player("P2", p=None, is_cleared=False)]))
    assert told[1].endswith("1 machine shared no faulty reel and could not be judged.")


def test_nothing_is_told_with_what_would_have_been_found() -> None:
    rows = [recorder("R1", found_ratio=0.25), recorder("R2", found_ratio=0.75), recorder("R3", found_ratio=0.995)]
    shifts = [recorder("recordist 1", recordist="recordist 1")]
    told = opening(found(recorders=rows, recordists=shifts))
    assert len(told) == 1
    assert told[0] == (
        "Nothing points to one player, recorder or shift: 20 faults in 500.0 h of playback fall on them as luck easily "
        "lets them. These hours would have found a recorder three times as bad as the others (for the middle "
        "recorder 75 %, from 25 % to 100 %) and a playing machine three times as bad as the others (with a "
        "chance of 50 %)."
    )


def test_who_could_not_be_compared_is_not_cleared_by_silence() -> None:
    alone = [player(name, p=None, adjusted_p=None, found_ratio=None) for name in ("P1", "P2")]
    assert opening(found(players=alone))[0].startswith(
        "Nothing points to one recorder: 20 faults in 500.0 h of playback fall on them as luck easily lets them. The "
        "playing machines could not be held against each other: no reel with a fault was played on two of them in one "
        "role."
    )
    silent = [recorder("R1", p=None, adjusted_p=None, found_ratio=None)]
    assert opening(found(players=alone, recorders=silent))[0].startswith("Nobody could be held against anybody: 20")
    assert opening(found())[0].startswith("Nothing points to one player or recorder: 20 faults")


def test_players_shifts_and_machines_that_only_play_their_own_tapes_well() -> None:
    own = {"ratio": ratio(None, 1.9, None), "adjusted_p": 0.002, "is_named": True}
    shift = {"recordist": "recordist 2", **NAMED}
    told = opening(found(players=[player("P1", **NAMED)], recordists=[shift], recorders=[recorder("R1", own=own)]))
    assert told[0].startswith(
        "Faults follow the playing machine P1: on the same reels it fails 3.20 times (2.50 to 4.10)"
    )
    assert told[1].startswith("Tapes recorded on the shift of recordist 2 fail 3.20 times")
    assert told[1].endswith("A shift stands for all that was the same in it, not for a person's work.")
    assert told[2].startswith("Tapes of R1 fail at least 1.90 times as often on other machines")
    assert not any(line.startswith("Nothing") for line in told)


def test_what_cannot_be_told_apart() -> None:
    alone = {"players": ["P9"], "recorders": ["R9"], "is_cut_off": True, "ratio": ratio(2.0, 1.1, 3.6)}
    assert cut_off(alone) == (
        "Cannot be told apart: every tape of R9 was played on P9, and P9 played no others. Together they fail 2.00 "
        "times (1.10 to 3.60) as often as the rest of the room; whose that is stays open."
    )
    several = alone | {"players": ["P1", "P2"], "ratio": ratio(None, None, None)}
    assert cut_off(several) == (
        "Cannot be told apart as groups: P1 and P2 played only tapes of R9, and these were played nowhere else."
    )
    told = opening(found(inseparable=[alone] * 8 + [alone | {"is_cut_off": False}]))
    assert told[-2] == "2 more such groups stand in the table below."
    assert told[-1].startswith("Hardly told apart, because they were mostly together: P9 and the tapes of R9.")


def test_what_is_missing_is_told() -> None:
    nothing = found(cells=[], faults=found()["faults"] | {"played_h": 0.0})
    assert opening(nothing)[0].startswith("No machine is known to have run well while it was booked")
    assert "Needed is the register of reels" in opening(found(cells=[]))[0]
    calm = found(faults=found()["faults"] | {"counted_count": 0})
    assert opening(calm) == [
        "No fault began in 500.0 h of playback, so there is nothing to lay on a player, recorder or reel."
    ]
    lacking = found()["faults"] | {"no_label_h": 20.0, "no_label_count": 2, "not_booked_count": 1}
    lines = not_known(found(faults=lacking))
    assert lines[0] == "The recorder of 2 faults in 20.0 h of playback, with reels whose recorder no label tells."
    assert lines[1] == "The reel of 1 fault on machines not booked to play."
    many = found(names_count={"players": 90, "recorders": 2, "recordists": 0})
    assert "88 players with the fewest hours of playback: not tested." in not_known(many)


def test_ratios_in_words() -> None:
    assert ratio_text(ratio(2.0, 1.1, 3.6)) == "2.00 (1.10 to 3.60)"
    assert ratio_text(ratio(None, 1.1, None)) == "without limit (1.10 or more)"
    assert ratio_text(ratio(None, 0.0068, None)) == "without limit (0.007 or more)"
    assert ratio_text(ratio(None, 0.0001, None)) == "without limit (0 or more)"
    # 3,880 / 0.02 is far over a thousand; 10 / 0.01 is a thousand and no more; 0 as lower limit is an answer.
    assert ratio_text(ratio(7.8, 0.02, 3880.0)) == "n/a"
    assert ratio_text(ratio(1.0, 0.01, 10.0)) == "1.00 (0.01 to 10.0)"
    assert ratio_text(ratio(0.0, 0.0, 23.2)) == "0 (0 to 23.2)"
    assert ratio_text(ratio(None, 0.0, None)) == ratio_text(None) == times_text(None) == "n/a"
    assert said([str(number) for number in range(9)]) == "0, 1, 2, 3, 4, 5 and 3 more"


def test_the_two_way_table_adds_up_and_is_bounded() -> None:
    """Ten players by ten recorders, one fault and (1 + place) hours each; the two with fewest hours are summed."""
    cells: list[dict[str, Any]] = [
        {"player": f"P{a}", "recorder": f"R{b}", "count": 1, "exposure_h": float(1 + a + b)}
        for a in range(10) for b in range(10) if (a, b) != (9, 9)
    ]  # fmt: skip
    table = crossed(cells)
    assert table["columns"] == [*(f"R{b}" for b in range(2, 10)), REST]
    assert [row["player"] for row in table["rows"]] == [*(f"P{a}" for a in range(2, 10)), REST, ""]
    assert len(table["columns"]) == MOST_ACROSS + 1
    for row in table["rows"]:
        assert sum(place[0] for place in row["places"] if place) == row["sum"][0]
    assert table["rows"][-1]["sum"] == [99, sum(cell["exposure_h"] for cell in cells)]
    assert table["rows"][-3]["places"][-2] is None  # P9 never played R9
    assert crossed([])["columns"] == []


def test_rows_are_bounded_and_the_named_one_stays() -> None:
    rows = [player(f"P{number:03}", exposure_h=1000.0 - number) for number in range(100)]
    rows[99] |= NAMED
    kept = shown(rows)
    assert [row["machine"] for row in kept] == [*(f"P{number:03}" for number in range(MOST_ROWS - 1)), "P099"]
    assert len(ratio_rows(rows, "plays")) == MOST_LINES


def test_the_chart_cuts_its_lines_at_the_frame() -> None:
    (row,) = ratio_rows([player("P1", ratio=ratio(12.0, 0.01, None))], "plays")
    assert (row["value"], row["low"], row["high"]) == (None, 0.1, 10.0)
    assert row["text"] == "12.0 (0.01 or more)"


def test_the_page_of_a_room_without_labels(rendered: Rendered, reading: Reading) -> None:
    """The small room has bookings and no register of reels: the page says so and judges players only."""
    (sheet,) = sheets(reading)
    assert sheet.name == "recording.html"
    text = rendered.text("recording.html")
    assert "no label says which machine recorded" in text
    assert "As players" in text
    assert "As recorders" not in text
    assert "What this page cannot say" in text
    assert "<script>" not in text
