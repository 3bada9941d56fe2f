"""Proposals for invented exports against the labels that their author gave the columns."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.propose import propose_table
from tests.ingest.propose.exports import EXPORTS, UNFORESEEN, Export
from tests.ingest.propose.reading_back import accepted, compared, table_of

ALL = pytest.mark.parametrize("export", EXPORTS, ids=lambda each: each.name)
MAKES = 12  # fewest exports of different make that are tried


def _proposed(export: Export, folder: Path):
    path = folder / export.name
    export.write(path)
    return propose_table(path, export.asked_kind)


@ALL
def test_the_table_is_accepted_as_it_stands(export: Export, tmp_path: Path) -> None:
    proposal = _proposed(export, tmp_path)
    tables = accepted(proposal.text, tmp_path / "site").tables
    assert [table.feed.name for table in tables] == ([export.kind] if export.kind else [])
    assert all(table.paths == (export.name,) for table in tables)


@ALL
def test_every_column_is_what_its_label_says(export: Export, tmp_path: Path) -> None:
    found = compared(_proposed(export, tmp_path), export)
    assert found == Counter(right=len(export.columns), wrong=0, undecided=0)


@ALL
def test_keys_words_and_parts_are_what_the_author_says(export: Export, tmp_path: Path) -> None:
    table = table_of(_proposed(export, tmp_path))
    assert {key: table.get(key) for key in export.settings} == export.settings
    for column, words in export.words.items():
        given = table["words"][column]
        assert {theirs: given.get(theirs) for theirs in words} == words
        assert not set(export.asked) & set(given)
    for theirs, groups in export.parts.items():
        named = {name for pattern in table["parts"][theirs] for name in re.compile(pattern).groupindex}
        assert named == set(groups)


@ALL
def test_what_cannot_be_told_is_said_and_not_guessed(export: Export, tmp_path: Path) -> None:
    proposal = _proposed(export, tmp_path)
    for key in export.undecided:
        assert any(sentence.startswith(f"{key}:") for sentence in proposal.undecided)
        assert key not in table_of(proposal)
    for word in export.asked:
        assert re.search(rf'^# "{word}" = "" +# [0-9]+ rows; what does it mean\?$', proposal.text, re.MULTILINE)


def test_no_labelled_column_is_mapped_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert len(EXPORTS) >= MAKES
    foreseen = sum((compared(_proposed(each, tmp_path), each) for each in EXPORTS), Counter())
    unforeseen = sum((compared(_proposed(each, tmp_path), each) for each in UNFORESEEN), Counter())
    with capsys.disabled():
        print(f"\ncolumns of labelled exports: {dict(foreseen)}; of unforeseen ones: {dict(unforeseen)}")
    assert foreseen["wrong"] == unforeseen["wrong"] == 0
    assert foreseen["right"] > 0.95 * foreseen.total()


@pytest.mark.parametrize("export", UNFORESEEN, ids=lambda each: each.name)
def test_a_table_for_an_unforeseen_file_is_accepted_too(export: Export, tmp_path: Path) -> None:
    proposal = _proposed(export, tmp_path)
    assert [table.feed.name for table in accepted(proposal.text, tmp_path / "site").tables] == [export.kind]
    assert proposal.undecided


def _with_blank_names(content: str, names: Iterable[str]) -> tuple[str, dict[str, str]]:
    """``content`` with names that say nothing in its header line, and which name each stands for."""
    lines = content.splitlines()
    at = next(k for k, line in enumerate(lines) if all(name in line for name in names))
    blank = {f"zq{chr(97 + k)}x": name for k, name in enumerate(sorted(names, key=len, reverse=True))}
    for replaced, name in blank.items():
        lines[at] = lines[at].replace(name, replaced)
    return "\n".join(lines) + "\n", blank


def test_without_names_the_contents_map_nothing_wrong(tmp_path: Path) -> None:
    found: Counter[str] = Counter()
    for export in (*EXPORTS, *UNFORESEEN):
        if not export.name.endswith((".csv", ".tsv")) or not export.columns or "header_row" in export.settings:
            continue
        path = tmp_path / export.name
        export.write(path)
        content, blank = _with_blank_names(
            path.read_text(str(export.settings.get("encoding", "utf-8"))), export.columns
        )
        path.write_text(content)
        labels = {theirs: export.columns[name] for theirs, name in blank.items()}
        found += compared(propose_table(path, export.kind), replace(export, columns=labels))
    assert found["wrong"] == 0
    assert found["right"] > 20


def test_a_canonical_file_needs_no_table(tmp_path: Path) -> None:
    path = tmp_path / "switches.csv"
    next(each for each in EXPORTS if each.name == path.name).write(path)
    proposal = propose_table(path)
    assert "needs no [[feeds]] table" in proposal.text
    assert all(line.startswith("#") for line in proposal.text.splitlines())
    moved = path.rename(tmp_path / "desk.csv")
    assert "It is found as switches.csv" in propose_table(moved).text


def test_a_file_like_no_feed_has_to_be_named(tmp_path: Path) -> None:
    path = tmp_path / "menu.csv"
    path.write_text("soup,price\nleek,3\npea,4\n")
    with pytest.raises(FeedError, match=r"is like no feed by its columns .*--kind"):
        propose_table(path)
    assert table_of(propose_table(path, "events"))["kind"] == "events"
    with pytest.raises(FeedError, match=r'"menus" is no kind of feed\. Expected one of events, switches'):
        propose_table(path, "menus")


def test_the_path_is_from_the_site_folder(tmp_path: Path) -> None:
    site = tmp_path / "room"
    (site / "logs [old]").mkdir(parents=True)
    (site / "site.toml").write_text("")
    path = site / "logs [old]" / "a.csv"
    path.write_text("time,unit,event\n2031-03-09T20:00:00Z,VT1,roll\n")
    proposal = propose_table(path)
    pattern = table_of(proposal)["path"]
    assert [found.name for found in site.glob(pattern)] == ["a.csv"]
    assert accepted(proposal.text, tmp_path / "other").tables[0].paths == (pattern,)


def test_the_deciding_date_is_named_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("time,unit,event\n01/02/2031 20:00,VT1,roll\n31/03/2031 20:00,VT1,stop\n")
    line = next(line for line in propose_table(path).text.splitlines() if line.startswith("date_order"))
    # 31 is no month, so that the day stands first; it is in the third line of the file.
    assert line.startswith('date_order = "dmy"')
    assert '"31/03/2031 20:00" in line 3' in line


def test_the_trial_counts_the_rows_that_the_table_keeps(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("time,unit,event\n" + "2031-03-09T20:00:00Z,VT1,Roll\n" * 3 + "2031-03-09T20:00:00Z,VT1,Spool\n")
    assert "Tried on 4 rows: 3 would be kept, 1 set aside" in propose_table(path).text


def test_numbers_of_days_are_told_by_the_workbook_only(tmp_path: Path) -> None:
    import openpyxl
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    book = openpyxl.Workbook()
    book.active.append(["Ticket", "Machine", "Opened"])
    for k in range(12):
        book.active.append([f"F{k}", f"VT{k % 3 + 1}", 46100.25 + k])
    plain = tmp_path / "a.xlsx"
    book.save(plain)
    assert table_of(propose_table(plain))["numeric_times"] == "serial_1900"
    book.epoch = CALENDAR_MAC_1904
    shifted = tmp_path / "b.xlsx"
    book.save(shifted)
    assert table_of(propose_table(shifted))["numeric_times"] == "serial_1904"


def test_an_archive_of_several_files_is_said_to_be_one(tmp_path: Path) -> None:
    import zipfile

    path = tmp_path / "logs.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.csv", "time,unit,event\n2031-03-09T20:00:00Z,VT1,Roll\n")
        archive.writestr("b.csv", "Ticket,Machine,Opened\n")
    assert any(sentence.startswith("path: the archive holds 2 files") for sentence in propose_table(path).undecided)


def test_dashes_for_nothing_do_not_hide_numbers(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    rows = "".join(
        f"2031-03-09T20:00:0{k}Z,VT1,{'offset' if k == 5 else 'roll'},{'0.02' if k == 5 else '-'}\n" for k in range(9)
    )
    path.write_text(f"time,unit,event,reading\n{rows}")
    proposal = propose_table(path)
    assert table_of(proposal)["empty"] == ["-"]
    assert table_of(proposal)["columns"]["reading"] == "value"
    assert "Tried on 9 rows: 9 would be kept." in proposal.text
    accepted(proposal.text, tmp_path / "site")
