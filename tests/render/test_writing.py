"""Writing: whole files, and nothing removed that airhours did not write."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.errors import OutputError
from pipeline.render.writing import LIST, add_pages, write_pages

PAGES = {"assets/airhours.css": b"x", "assets/airhours.js": b"y", "index.html": b"one", "month-2031-03.html": b"two"}


def test_old_pages_go_and_strangers_stay(tmp_path: Path) -> None:
    write_pages(tmp_path, PAGES)
    (tmp_path / "notes.html").write_text("mine")
    (tmp_path / "data" / "figures.json").write_text("{}")
    write_pages(tmp_path, {"index.html": b"new"})
    assert sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()) == [
        "data/figures.json",
        LIST,
        "index.html",
        "notes.html",
    ]
    assert (tmp_path / "index.html").read_bytes() == b"new"


def test_a_list_that_names_files_outside_is_not_believed(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_pages(out, PAGES)
    victims = [tmp_path / "victim.html", out / "data" / "figures.json", out / "sub" / "kept.html"]
    for victim in victims:
        victim.parent.mkdir(exist_ok=True)
        victim.write_text("keep")
    listed = ["../victim.html", "data/figures.json", "sub/kept.html", str(victims[0]), 7]
    (out / LIST).write_text(json.dumps({"pages": listed}))
    write_pages(out, {"index.html": b"new"})
    assert all(victim.read_text() == "keep" for victim in victims)


def test_unchanged_files_are_left_alone(tmp_path: Path) -> None:
    write_pages(tmp_path, PAGES)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*") if path.is_file()}
    write_pages(tmp_path, PAGES)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_broken_list_is_no_list(tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / LIST).write_text("{not json")
    write_pages(tmp_path, PAGES)
    assert json.loads((tmp_path / LIST).read_text())["pages"] == sorted(PAGES)


def test_out_that_is_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="cannot be written"):
        write_pages(tmp_path / "out", PAGES)


def test_a_page_that_is_added_leaves_the_list_and_the_others_and_a_run_leaves_it(tmp_path: Path) -> None:
    write_pages(tmp_path, PAGES)
    listed = (tmp_path / LIST).read_bytes()
    add_pages(tmp_path, {"window-a.html": b"asked for", "index.html": b"one"})
    assert (tmp_path / LIST).read_bytes() == listed
    assert (tmp_path / "index.html").read_bytes() == b"one"
    write_pages(tmp_path, {"index.html": b"new"})
    assert (tmp_path / "window-a.html").read_bytes() == b"asked for"
    assert sorted(path.name for path in tmp_path.glob("*.html")) == ["index.html", "window-a.html"]


def test_a_page_is_not_added_where_nothing_can_be_written(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        add_pages(tmp_path / "gone", {"window-a.html": b"x"})
