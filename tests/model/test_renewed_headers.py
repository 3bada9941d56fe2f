"""What the models' files say under ``renewed:`` against what pipeline/model really keeps, watches and cuts.

A model that begins to read another table, or another column of one that is watched in part, must be noticed here:
otherwise its rows would stay as they were when only that input changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import duckdb
import pytest

from pipeline.model import by_machine, by_piece, from_touched
from pipeline.sql_files import Model, read_models
from pipeline.store import Store
from tests.model.room_tables import open_memory
from tests.sql.cases import BASE_TABLES, write_settings

MODELS = read_models()
BY_MACHINE = [model for model in MODELS if model.renewed == by_machine.RENEWED]
BY_PIECE = [model for model in MODELS if model.renewed == by_piece.RENEWED]
FIRST_WORDS = "core_heard_spans"  # of which by_piece holds the first word of each machine against what it was
SETTINGS = "core_settings"  # part of the seal: with other settings everything is made anew
# What by_piece holds against what it was, where that is not the whole row; and what orders moments, whatever its value.
WATCHED_IN_PART = {
    "core_machine_moments": f"{by_piece.MOMENT}, moment_no",
    "core_machine_states": "machine, state, started_at_utc, ended_at_utc",
    "core_pair_states": "machine_a, machine_b, is_in_step, started_at_utc, ended_at_utc",
    "core_members": by_piece.MEMBER,
    FIRST_WORDS: "machine, first_at_utc",
}


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    """Every table of a room in which nothing ever happened."""
    with open_memory() as opened:
        for table, columns in BASE_TABLES.items():
            opened.run(f"create table {table} ({columns})")
        write_settings(opened, None)
        for model in MODELS:
            opened.build(model.name, model.sql, is_view=model.is_view)
        yield opened


def inputs(models: Iterable[Model]) -> set[str]:
    """What these models read that none of them makes."""
    listed = list(models)
    return {table for model in listed for table in model.reads} - {model.name for model in listed}


def test_every_way_of_renewing_is_one_that_is_known() -> None:
    known = {"", from_touched.RENEWED, by_machine.RENEWED, by_piece.RENEWED}
    assert {model.renewed for model in MODELS} == known
    assert not [model.name for model in MODELS if model.renewed and model.is_view]


def test_what_is_renewed_from_lines_has_its_own_way() -> None:
    assert {model.name for model in MODELS if model.renewed == from_touched.RENEWED} == set(from_touched.RENEWALS)


def test_of_every_table_by_machine_it_is_known_when_a_row_begins(store: Store) -> None:
    assert {model.name for model in BY_MACHINE} == set(by_machine.SINCE)
    columns = store.tables()
    for table, since in by_machine.SINCE.items():
        assert {"machine", since} <= set(columns[table]), table


def test_what_goes_by_machine_reads_nothing_that_is_not_cut_or_watched() -> None:
    """Words and spans are cut at the restart; habits and the end of the data move it; settings are in the seal."""
    cut = {"core_word_rows", FIRST_WORDS}
    assert inputs(BY_MACHINE) == cut | {"core_machine_habits", "core_as_of", SETTINGS}
    for table, select in (("core_word_rows", by_machine.WORDS), (FIRST_WORDS, by_machine.SPANS)):
        assert f"create table {table} as" in select


def test_what_pieces_read_is_what_is_watched() -> None:
    """Of the tables kept only core_as_of is not for the pieces: what goes by machine is held against it."""
    assert "core_as_of" in by_piece.WATCHED
    for_pieces = set(by_piece.WATCHED) - {"core_as_of"}
    assert inputs(BY_PIECE) == for_pieces | set(by_machine.KEPT) | {FIRST_WORDS, SETTINGS}


def test_each_input_of_the_pieces_is_held_against_what_it_was() -> None:
    select = by_piece.touched_pieces("before")
    for table in inputs(BY_PIECE) - {FIRST_WORDS, SETTINGS}:
        assert f"before.{table}" in select, table
    assert "before.first_words" in select
    assert FIRST_WORDS in by_piece.FIRST_WORDS


def test_rows_by_piece_tell_their_piece(store: Store) -> None:
    columns = store.tables()
    for model in BY_PIECE:
        assert {"channel", "piece_started_at_utc"} <= set(columns[model.name]), model.name


def test_pieces_need_no_column_that_is_not_watched(store: Store) -> None:
    _build_from_parts(store, WATCHED_IN_PART)


@pytest.mark.parametrize(
    ("table", "left_out"),
    [("core_machine_moments", "is_rolling"), ("core_pair_states", "is_in_step"), (FIRST_WORDS, "first_at_utc")],
)
def test_a_column_that_is_not_watched_would_be_noticed(store: Store, table: str, left_out: str) -> None:
    fewer = ", ".join(name for name in WATCHED_IN_PART[table].split(", ") if name != left_out)
    with pytest.raises(duckdb.BinderException, match=left_out):
        _build_from_parts(store, {**WATCHED_IN_PART, table: fewer})


def _build_from_parts(store: Store, parts: dict[str, str]) -> None:
    """The models by piece, made where of these tables only these columns are to be seen."""
    made = []
    try:
        with store.aside("parts"):
            for table, columns in parts.items():
                store.run(f"create table {table} as select {columns} from main.{table}")
            for model in BY_PIECE:
                store.run(f"create table {model.name} as {model.sql}")
                made.append(model.name)
    finally:
        store.run("drop schema if exists parts cascade")
    assert len(made) == len(BY_PIECE) > 0
