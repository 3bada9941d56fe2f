"""What a run leaves: figures three ways that say the same, whole files or none, and a list that notices any change."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline import outputs
from pipeline.digests import digest, digest_file
from pipeline.errors import OutputError
from pipeline.outputs import (
    figure_rows,
    is_intact,
    program_seal,
    require_writable,
    write_data,
    write_manifest,
    write_text,
)
from pipeline.store import Store

FIGURES: dict[str, Any] = {
    "site": "Ångmaskin",
    "total": {"air_s": 3600.0, "continuity": None, "to_air_s": {"median": 8.0, "n": 3}, "causes": [{"count": 1}]},
    "months": [{"month": "2031-03", "air_s": 3600.0}],
    "channels": [{"channel": "ONE", "air_s": 3600.0}],
    "machines": [{"machine": "A1", "air_s": 3000.5}, {"machine": "A2", "air_s": 599.5}],
    "month_channels": [{"month": "2031-03", "channel": "ONE", "air_s": 3600.0}],
}
ROWS = [
    ("total", None, None, None, "air_s", 3600.0),
    ("total", None, None, None, "continuity", None),
    ("total", None, None, None, "to_air_s.median", 8.0),
    ("total", None, None, None, "to_air_s.n", 3.0),
    ("months", "2031-03", None, None, "air_s", 3600.0),
    ("channels", None, "ONE", None, "air_s", 3600.0),
    ("machines", None, None, "A1", "air_s", 3000.5),
    ("machines", None, None, "A2", "air_s", 599.5),
    ("month_channels", "2031-03", "ONE", None, "air_s", 3600.0),
]


@pytest.fixture
def store() -> Iterator[Store]:
    """The tables that are copied out, two rows each and not in their order; air spans with a microsecond."""
    with Store(Path(":memory:")) as opened:
        for table, order in outputs.TABLES.values():
            names = [name.strip() for name in order.split(",")]
            later = ", ".join(f"'b' as {name}" for name in names)
            earlier = ", ".join(f"'a' as {name}" for name in names)
            opened.run(f"create table {table} as select {later} union all select {earlier}")
        opened.run(
            "create or replace table core_air_spans as select 'ONE' as channel,"
            " timestamp '2031-03-09 10:00:00.000001' as started_at_utc"
        )
        opened.run(
            "create or replace table core_set_aside as select * from (values ('b', 'b', 2, 'b', 'b'),"
            " ('a', 'a', 1, 'a', 'a')) as rows (feed, file, line, reason, text)"
        )
        yield opened


def test_figures_as_a_long_table() -> None:
    """Nested names are joined by a dot, nulls are kept, lists are not figures."""
    assert figure_rows(FIGURES).rows() == ROWS


def test_the_three_forms_say_the_same(store: Store, tmp_path: Path) -> None:
    write_data(store, FIGURES, tmp_path)
    data = tmp_path / "data"
    assert json.loads((data / "figures.json").read_text(encoding="utf-8")) == FIGURES
    assert "Ångmaskin" in (data / "figures.json").read_text(encoding="utf-8")
    assert pl.read_parquet(data / "figures.parquet").rows() == ROWS
    with (data / "figures.csv").open(encoding="utf-8", newline="") as file:
        written = [tuple(row.values()) for row in csv.DictReader(file)]
    assert written == [tuple("" if cell is None else str(cell) for cell in row) for row in ROWS]


def test_tables_are_written_in_order_with_their_instants_in_utc(store: Store, tmp_path: Path) -> None:
    write_data(store, FIGURES, tmp_path)
    data = tmp_path / "data"
    names = {"figures.json", "figures.csv", "figures.parquet"}
    names |= {f"{name}.{ending}" for name in outputs.TABLES for ending in ("csv", "parquet")}
    assert {path.name for path in data.iterdir()} == names  # and no half-written part among them
    assert (data / "air_spans.csv").read_text(encoding="utf-8").splitlines()[1] == "ONE,2031-03-09T10:00:00.000001Z"
    assert (data / "switches.csv").read_text(encoding="utf-8") == "switch_no\na\nb\n"
    assert pl.read_parquet(data / "switches.parquet")["switch_no"].to_list() == ["a", "b"]


def test_twice_the_same_gives_the_same_bytes(store: Store, tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_data(store, FIGURES, tmp_path / name)
    for path in sorted((tmp_path / "one" / "data").iterdir()):
        assert path.read_bytes() == (tmp_path / "two" / "data" / path.name).read_bytes(), path.name


def test_a_figure_that_is_no_number_is_refused_and_leaves_no_file(store: Store, tmp_path: Path) -> None:
    """RFC 8259 has no NaN."""
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_data(store, {**FIGURES, "total": {"air_s": math.nan}}, tmp_path)
    assert list((tmp_path / "data").iterdir()) == []


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path) -> None:
    write_text(tmp_path / "page.html", "old")
    with pytest.raises(UnicodeEncodeError):
        write_text(tmp_path / "page.html", "\ud800")  # half a surrogate pair has no UTF-8
    assert (tmp_path / "page.html").read_text(encoding="utf-8") == "old"


def test_lines_end_the_same_way_on_every_system(tmp_path: Path) -> None:
    write_text(tmp_path / "a.txt", "å\nb\n")
    assert (tmp_path / "a.txt").read_bytes() == b"\xc3\xa5\nb\n"


def test_digests_of_the_standard(tmp_path: Path) -> None:
    """FIPS 180-4 example: SHA-256 of "abc"; and of nothing, as commonly published."""
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest("abc") == abc
    (tmp_path / "abc").write_bytes(b"abc")
    assert digest_file(tmp_path / "abc") == abc
    assert digest("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """An out folder with two files, one in a folder of its own, and the list of them."""
    (tmp_path / "data").mkdir()
    write_text(tmp_path / "index.html", "abc")
    write_text(tmp_path / "data" / "figures.csv", "")
    write_manifest(tmp_path, "seal")
    return tmp_path


def test_the_list_names_every_file_but_itself(out: Path) -> None:
    manifest = json.loads((out / "data" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest == {"seal": "seal", "files": {"data/figures.csv": digest(""), "index.html": digest("abc")}}
    assert is_intact(out, "seal")


def test_a_page_asked_for_by_hand_is_neither_listed_nor_missed(out: Path) -> None:
    (out / "window-20310309-200400-one.html").write_text("asked for", encoding="utf-8")
    assert is_intact(out, "seal")
    write_manifest(out, "seal")
    (out / "window-20310309-200400-one.html").unlink()
    assert is_intact(out, "seal")


@pytest.mark.parametrize("text", ["", "abc ", "abd"])
def test_an_altered_file_is_noticed(out: Path, text: str) -> None:
    (out / "index.html").write_text(text, encoding="utf-8")
    assert not is_intact(out, "seal")


def test_a_missing_file_another_program_and_a_missing_list_are_noticed(out: Path) -> None:
    assert not is_intact(out, "another seal")
    (out / "data" / "figures.csv").unlink()
    assert not is_intact(out, "seal")
    (out / "data" / "manifest.json").unlink()
    assert not is_intact(out, "seal")


@pytest.mark.parametrize("text", ["", "{", "[]", '"seal"', '{"seal": "seal"}', '{"seal": "seal", "files": []}', "\xff"])
def test_a_list_that_is_none_means_write_again(out: Path, text: str) -> None:
    (out / "data" / "manifest.json").write_bytes(text.encode("latin-1"))
    assert not is_intact(out, "seal")


def test_the_seal_is_one_word_and_the_same_each_time() -> None:
    program_seal.cache_clear()
    first = program_seal()
    program_seal.cache_clear()
    assert program_seal() == first
    assert len(first) == 64


def test_the_seal_is_of_everything_that_pages_are_made_of(monkeypatch: pytest.MonkeyPatch) -> None:
    sealed: list[Path] = []

    def note(path: Path) -> str:
        sealed.append(path)
        return ""

    monkeypatch.setattr(outputs, "digest_file", note)
    outputs.program_seal.__wrapped__()
    made_of = Path(outputs.__file__).parent / "render"
    assert {path for path in made_of.rglob("*") if path.is_file() and path.parent.name != "__pycache__"} <= set(sealed)


def test_an_out_folder_is_made_and_left_empty(tmp_path: Path) -> None:
    require_writable(tmp_path / "a" / "b")
    assert list((tmp_path / "a" / "b").iterdir()) == []


def test_an_out_folder_that_is_a_file_is_refused_in_plain_words(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(OutputError, match=r"^The out folder .*out cannot be written: .*--out, or mend its rights\.$"):
        require_writable(tmp_path / "out")
    with pytest.raises(OutputError, match=r"cannot be written: not a directory\."):
        require_writable(tmp_path / "out" / "below")
