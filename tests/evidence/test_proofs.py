"""Every edge of every line is proved by a row that bears that instant, or by a reason that rests on no row.

The instants that rows bear are read here from the tables of rows, not from the models that made the stretches; texts
are compared with the lines of the files themselves.
"""

from __future__ import annotations

import gzip
import shutil
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.evidence import Scope
from pipeline.places import DATABASE
from pipeline.store import Store
from tests.evidence.edges import check_edges
from tests.evidence.rooms import Room, reopened

pytestmark = pytest.mark.slow


def test_every_edge_of_the_sample_room_is_proved(sample: Room) -> None:
    """The total holds every stretch (over 1,100 of air alone) and every event of every other group."""
    assert check_edges(sample, Scope()) > 6_000


def test_every_edge_of_the_second_room_is_proved(second: Room) -> None:
    assert check_edges(second, Scope()) > 200


def test_every_edge_of_the_tiny_room_is_proved(tiny: Room) -> None:
    assert check_edges(tiny, Scope()) > 40


def test_machine_groups_are_proved_too(sample: Room) -> None:
    """Duty as protect and losses of cover exist of machines only."""
    for entry in sample.figures["machines"]:
        assert check_edges(sample, Scope(machine=entry["machine"])) > 100


def test_causes_patterns_and_standby_are_proved_too(sample: Room) -> None:
    groups = [Scope(cause="operations"), Scope(month="2031-03", cause="unknown: record missing"), Scope()]
    patterns = sample.figures["patterns"]["names"]
    groups += [Scope(pattern=f"{entry['kind']}: {entry['name']}") for entry in patterns if entry["name"]][:20]
    for scope in groups:
        assert check_edges(sample, scope, further=True) > 0, scope


def test_a_row_that_bears_another_instant_proves_nothing(sample: Room, tmp_path: Path) -> None:
    """Every loss of picture is stamped a second later: the stretches stay, their beginnings are no longer proved."""
    shutil.copy(sample.site / DATABASE, tmp_path / DATABASE)
    with Store(tmp_path / DATABASE) as store:
        second = "interval 1 second where event = 'picture_lost'"
        store.run(f"update raw_event_rows set stamped_at_utc = stamped_at_utc + {second}")
        store.run(f"update core_word_rows set at_utc = at_utc + {second}")
    moved = reopened(tmp_path, sample.figures)
    try:
        with pytest.raises(AssertionError):
            check_edges(moved, Scope())
    finally:
        moved.store.close()


def told(room: Room, figure: str) -> list[tuple[int, str, str | None, int | None, str]]:
    items = room.evidence.lines(figure, Scope()).items
    return room.evidence.sources(items).select("item", "side", "file", "line", "why").rows()


def test_the_tiny_interruption_is_proved_by_its_two_rows(tiny: Room) -> None:
    """19:10:00 picture lost and 19:10:04.5 the take, line 3 of switches.csv (the header is line 1)."""
    begins, ends = told(tiny, "interruptions")
    assert (begins[1], begins[2], begins[4]) == ("begins", "events/A.csv", "A: picture lost")
    assert ends[1:] == ("ends", "switches.csv", 3, "take from A to B, reason fault")


def test_a_switch_is_proved_by_its_takes_alone(tiny: Room) -> None:
    assert {(side, file, line) for _, side, file, line, _ in told(tiny, "forced")} == {
        ("begins", "switches.csv", 3), ("ends", "switches.csv", 3),
    }  # fmt: skip


def test_silence_is_proved_by_the_last_line_before_it(tiny: Room) -> None:
    """B says `alive` at 19:40:00 and then nothing until 19:50:00: not known from 19:43:00, with the site's 180 s."""
    items = tiny.evidence.lines("unknown_s", Scope()).items
    assert items.select("started_at_utc", "ended_at_utc").rows() == [
        (datetime(2031, 3, 10, 19, 43), datetime(2031, 3, 10, 19, 50))  # noqa: DTZ001 - naive UTC, as in all tables
    ]
    sources = tiny.evidence.sources(items).filter(pl.col("side") != "says")
    texts = sources.select("side", "text").rows()
    assert texts == [("begins", "2031-03-10T19:40:00Z,B,alive,,"), ("ends", "2031-03-10T19:50:00Z,B,alive,,")]
    assert "nothing heard from B" in sources["why"][0]


def test_a_stretch_ruled_no_air_is_proved_by_the_ruling(tiny: Room) -> None:
    items = tiny.evidence.lines("air_s", Scope()).items
    sources = tiny.evidence.sources(items).filter(pl.col("file") == "rulings.csv")
    assert sources["side"].to_list() == ["ends", "begins"]
    assert sources["line"].to_list() == [2, 2]


def test_an_onset_is_a_word_of_the_machine_itself(sample: Room) -> None:
    items = sample.evidence.lines("to_take_s.n", Scope()).items
    machines = dict(items.select("item", "machine").rows())
    begins = sample.evidence.sources(items).filter(pl.col("side") == "begins")
    assert begins.height >= items.height
    for item, why in begins.select("item", "why").iter_rows():
        assert why.startswith(f"{machines[item]}: ")


def test_a_month_s_end_rests_on_no_row(sample: Room) -> None:
    """VT6 is lost across 1 March 05:00 UTC (06:00 local, the broadcast day's start) with no row there."""
    items = sample.evidence.lines("lost_s", Scope(month="2031-03", channel="Night")).items
    first = sample.evidence.sources(items, 1).rows(named=True)
    assert [row["file"] for row in first if row["side"] == "begins"] == [None]
    assert "month" in first[0]["why"]


def test_most_leaves_the_rest_out(sample: Room) -> None:
    items = sample.evidence.lines("interruptions", Scope()).items
    assert set(sample.evidence.sources(items, 3)["item"]) == {1, 2, 3}
    assert sample.evidence.sources(items.clear()).columns == ["item", "side", "file", "line", "text", "why"]


def test_texts_are_the_lines_of_the_files(sample: Room) -> None:
    """With persons shown, the text of a row is its line in its file, byte for byte (where a row is one line)."""
    shown = reopened(sample.site, sample.figures, shows_persons=True)
    sources = shown.evidence.sources(shown.evidence.lines("interruptions", Scope()).items)
    shown.store.close()
    texts: dict[str, list[str]] = {}
    checked = 0
    for file, line, text in sources.select("file", "line", "text").unique().iter_rows():
        if file is None or file.endswith(".parquet"):
            continue
        texts.setdefault(file, lines_of(sample.site / file))
        assert texts[file][line - 1] == text, (file, line)
        checked += 1
    assert checked > 100


def lines_of(path: Path) -> list[str]:
    raw = path.read_bytes()
    text = (gzip.decompress(raw) if path.suffix == ".gz" else raw).decode("utf-8-sig", errors="replace")
    return [line.rstrip("\r") for line in text.split("\n")]


@pytest.mark.parametrize(
    ("figure", "scope"),
    [("rows.set_aside", Scope()), ("repeats", Scope(file="switches.csv")), ("clock.pairs", Scope(machine="VT6"))],
)
def test_rows_name_themselves(sample: Room, figure: str, scope: Scope) -> None:
    items = sample.evidence.lines(figure, scope).items
    sources = sample.evidence.sources(items)
    assert set(sources["side"]) == {"says"}
    assert set(sources["item"]) == set(items["item"])
    assert sources["text"].null_count() == 0


def test_a_clock_pair_is_a_start_command_and_a_roll(sample: Room) -> None:
    """VT6's clock is 42 s ahead (README of the sample room): the two stamps differ by that."""
    items = sample.evidence.lines("clock.pairs", Scope(machine="VT6")).items
    sources = sample.evidence.sources(items, 1)
    assert sorted(row.split(",")[1:3][0] for row in sources["text"]) == ["VT6", "start"]
    assert "42.0 s" in items["what"][0]
