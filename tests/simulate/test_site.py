"""The folder that is written: the same bytes again, longer rooms that begin as shorter ones do, rows as counted."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.errors import OutputError
from pipeline.simulate import Parameters, chatter, simulate_site
from tests.simulate.rooms import bytes_of, truth_of

SMALL = Parameters(days=1, pairs=2, lines_per_second=0.02, faults=200.0, handovers=100.0)
FEEDS = ("bookings.csv", "switches.csv", "tickets.csv")


def written(folder: Path, parameters: Parameters) -> dict[str, bytes]:
    simulate_site(folder, parameters)
    return bytes_of(folder)


@pytest.mark.parametrize("mess", [0.0, 0.2])
def test_the_same_parameters_give_the_same_bytes(tmp_path: Path, mess: float) -> None:
    parameters = replace(SMALL, days=2, mess=mess, clock_error=20)
    assert written(tmp_path / "one", parameters) == written(tmp_path / "two", parameters)


def test_another_seed_gives_another_room(tmp_path: Path) -> None:
    one, other = (written(tmp_path / str(seed), replace(SMALL, seed=seed, days=1)) for seed in (1, 2))
    assert set(one) == set(other)
    # Registers and labels name what there is, which is the same for all seeds.
    assert {name for name in one if one[name] == other[name]} == {"machines.csv", "reels.csv"}


def test_a_room_that_is_a_day_longer_begins_as_the_shorter_one(tmp_path: Path) -> None:
    shorter, longer = (written(tmp_path / str(days), replace(SMALL, days=days)) for days in (3, 4))
    logs = [name for name in shorter if name.startswith("events/")]
    assert len(logs) == 8  # four machines; midnight in Stockholm on 1 March is in February, UTC
    for name in [*logs, *FEEDS]:
        assert longer[name].startswith(shorter[name]), name
        assert (len(longer[name]) > len(shorter[name])) == ("2031-02" not in name), name


def test_parts_join_without_a_gap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    parameters = replace(SMALL, days=2)
    whole = written(tmp_path / "whole", parameters)
    monkeypatch.setattr(chatter, "PART", 97)
    assert written(tmp_path / "parts", parameters) == whole


@pytest.mark.parametrize("lines", [2_000, 20_000, 100_000])
def test_about_as_many_event_lines_as_asked_for(tmp_path: Path, lines: int) -> None:
    told = simulate_site(tmp_path / "site", Parameters(days=2, pairs=2, lines=lines))
    rows = sum(sum(1 for _ in path.open()) - 1 for path in (tmp_path / "site" / "events").iterdir())
    assert told.event_lines == rows
    # A file a machine and month may end with a line too many or too few, and the chatter is in whole lines.
    assert abs(rows - lines) <= 2 * 8 + 0.002 * lines


def test_counts_are_those_of_the_files(tmp_path: Path) -> None:
    told = simulate_site(tmp_path / "site", replace(SMALL, days=2, mess=0.1))
    truth = truth_of(tmp_path / "site")
    for entry in truth["files"]:
        with (tmp_path / "site" / entry["path"]).open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))[1:]
        assert entry["read"] == len(rows) == entry["kept"] + entry["repeats"] + entry["set_aside"], entry["path"]
        # A row that nobody can read is the only one with this time or event.
        unreadable = sum(any(cell == "rol1" or cell.startswith("abt ") for cell in row) for row in rows)
        assert entry["set_aside"] == unreadable, entry["path"]
    assert told.rows == truth["rows"]["read"]
    assert told.size_bytes == sum((tmp_path / "site" / entry["path"]).stat().st_size for entry in truth["files"])


def test_within_a_feed_as_many_rows_come_again_as_the_truth_says(tmp_path: Path) -> None:
    simulate_site(tmp_path / "site", replace(SMALL, days=2, mess=0.1))
    truth = truth_of(tmp_path / "site")
    for feed in ("events", "bookings", "switches", "tickets"):
        entries = [entry for entry in truth["files"] if entry["feed"] == feed]
        rows = [line for entry in entries for line in (tmp_path / "site" / entry["path"]).open().readlines()[1:]]
        assert sum(entry["repeats"] for entry in entries) == len(rows) - len(set(rows)), feed


def test_a_room_says_that_it_is_invented_and_from_what(tmp_path: Path) -> None:
    simulate_site(tmp_path / "site", replace(SMALL, seed=77, days=1))
    text = (tmp_path / "site" / "README.md").read_text(encoding="utf-8")
    assert "invented" in text
    assert "| seed | 77 |" in text


def test_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(OutputError, match="is not empty"):
        simulate_site(tmp_path, Parameters(days=1))
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_folder_that_cannot_be_made_is_said_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        simulate_site(tmp_path / "file" / "site", Parameters(days=1))


def test_the_truth_is_plain_json(tmp_path: Path) -> None:
    simulate_site(tmp_path / "site", replace(SMALL, days=1))
    json.dumps(truth_of(tmp_path / "site"), allow_nan=False)
