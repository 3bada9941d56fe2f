"""A room's own columns and words become ours, nothing that is not mapped is lost."""

from __future__ import annotations

import polars as pl
import pytest

from pipeline.errors import FeedError
from pipeline.ingest.batch import ASIDE_SCHEMA, Batch, cell_name
from pipeline.ingest.feeds import EVENTS, TICKETS, Feed
from pipeline.ingest.mapping.mapping import Mapping, Words, check_mapped, map_batch, wanted_columns
from pipeline.ingest.mapping.mapping_tables import read_mapping


def batch(headers: tuple[str, ...], *rows: tuple[str | None, ...]) -> Batch:
    cells = {cell_name(k): [row[k] for row in rows] for k in range(len(headers))}
    texts = ["|".join(str(cell) for cell in row) for row in rows]
    frame = pl.DataFrame(
        {"line": range(2, len(rows) + 2), "text": texts, **cells},
        schema={"line": pl.Int64, "text": pl.String, **dict.fromkeys(cells, pl.String)},
    )
    return Batch(headers, frame, pl.DataFrame(schema=ASIDE_SCHEMA))


def mapped(feed: Feed, given: Batch, **keys) -> tuple[list[dict[str, str | None]], Batch]:
    result = map_batch(given, feed, read_mapping(keys, feed, "site.toml"))
    rows = [
        {header: row[cell_name(k)] for k, header in enumerate(result.headers)}
        for row in result.rows.iter_rows(named=True)
    ]
    return rows, result


def test_columns_are_renamed_joined_and_shared_out() -> None:
    given = batch(
        ("Datum", "Zeit", "Masch", "Text"), ("2031-03-01", "20:00", "VT1", "lock"), ("2031-03-02", None, "VT2", None)
    )
    columns = {"Datum": "at", "Zeit": "at", "Masch": "machine", "Text": ["event", "detail"]}
    rows, _ = mapped(EVENTS, given, columns=columns)
    assert rows == [
        {"at": "2031-03-01 20:00", "machine": "VT1", "event": "lock", "detail": "lock"},
        {"at": "2031-03-02", "machine": "VT2", "event": None, "detail": None},
    ]


def test_what_is_not_mapped_is_kept_under_its_own_name() -> None:
    rows, result = mapped(EVENTS, batch(("at", "bay", "M"), ("t", "7", "VT1")), columns={"M": "machine"})
    assert result.headers == ("at", "machine", "bay")
    assert rows == [{"at": "t", "machine": "VT1", "bay": "7"}]


def test_a_column_of_theirs_that_has_a_name_of_ours_by_chance_is_kept_too() -> None:
    rows, _ = mapped(EVENTS, batch(("machine", "M"), ("lathe", "VT1")), columns={"M": "machine"})
    assert rows == [{"machine": "VT1", "machine (theirs)": "lathe"}]


def test_their_headers_are_found_in_other_letter_case_if_only_one_is_meant() -> None:
    rows, _ = mapped(EVENTS, batch(("DATUM",), ("t",)), columns={"Datum": "at"})
    assert rows == [{"at": "t"}]
    rows, _ = mapped(EVENTS, batch(("DATUM", "datum"), ("t", "u")), columns={"Datum": "at"})
    assert rows == [{"DATUM": "t", "datum": "u"}]


def test_cells_that_say_nothing_are_not_recorded() -> None:
    """Before anything else, so that a constant fills them; a cell that only begins so stands."""
    given = batch(("machine", "detail"), ("-", "N/A"), ("VT1", "-5"))
    rows, _ = mapped(EVENTS, given, empty=["-", "n/a"], constants={"machine": "VT9"})
    assert rows == [{"machine": "VT9", "detail": None}, {"machine": "VT1", "detail": "-5"}]


def test_constants_fill_empty_cells_only() -> None:
    rows, _ = mapped(EVENTS, batch(("machine",), ("VT1",), (None,)), constants={"machine": "VT9", "event": "alive"})
    assert rows == [{"machine": "VT1", "event": "alive"}, {"machine": "VT9", "event": "alive"}]


def test_words_exact_before_beginning_before_pattern() -> None:
    """Words and beginnings without regard to letter case; the longest beginning; patterns in order; ours stand."""
    given = batch(
        ("event",), ("SERVO",), ("servo lock",), ("Servo locked up",), ("x LOCK",), ("roll",), ("odd",), (None,)
    )
    rows, _ = mapped(
        EVENTS,
        given,
        words={"event": {"servo": "alarm"}},
        begins={"event": {"servo": "unlock", "SERVO LOCK": "lock"}},
        patterns={"event": {"LOCK$": "lock", "x": "stop"}},
    )
    assert [row["event"] for row in rows] == ["alarm", "lock", "lock", "lock", "roll", "odd", None]


def test_a_word_of_no_interest_sets_its_row_aside() -> None:
    given = batch(("event", "machine"), ("tick", "VT1"), ("roll", "VT1"), ("TICK 2", "VT1"))
    rows, result = mapped(EVENTS, given, words={"event": {"tick": ""}}, begins={"event": {"tick ": ""}})
    assert rows == [{"machine": "VT1", "event": "roll"}]
    assert result.aside.rows() == [
        (2, "tick|VT1", "of no interest: its [[feeds]] table says so of its word"),
        (4, "TICK 2|VT1", "of no interest: its [[feeds]] table says so of its word"),
    ]


def test_parts_of_a_cell_become_columns_by_the_first_pattern_that_matches() -> None:
    given = batch(("msg",), ("OFFSET -0.013 to VT2",), ("ALARM servo",), ("LOCK",), (None,))
    patterns = [
        r"^(?P<event>OFFSET) (?P<value>\S+)(?: to (?P<detail>\S+))?",
        r"^(?P<event>ALARM) (?P<detail>.+)",
        "^(?P<event>.+)$",
    ]
    words = {"event": {"offset": "offset", "alarm": "alarm", "lock": "lock"}}
    rows, _ = mapped(EVENTS, given, parts={"msg": patterns}, words=words)
    assert [(row["event"], row["value"], row["detail"]) for row in rows] == [
        ("offset", "-0.013", "VT2"),
        ("alarm", None, "servo"),
        ("lock", None, None),
        (None, None, None),
    ]
    assert rows[0]["msg"] == "OFFSET -0.013 to VT2"


def test_a_part_with_a_name_of_its_own_is_mapped_like_a_column() -> None:
    parts = {"msg": "^(?P<dev>[^:]+): (?P<event>.+)$"}
    rows, _ = mapped(EVENTS, batch(("msg",), ("VT1: roll",)), parts=parts, columns={"dev": "machine"})
    assert rows == [{"machine": "VT1", "event": "roll", "msg": "VT1: roll"}]


@pytest.mark.parametrize(
    ("text", "decimal", "thousands", "plain"),
    [
        ("1.234,50", ",", ".", "1234.50"),
        ("0,04", ",", "", "0.04"),
        ("1 234.5", ".", " ", "1234.5"),
        ("12", "", "", "12"),
    ],
)
def test_numbers_lose_their_local_marks(text: str, decimal: str, thousands: str, plain: str) -> None:
    given = batch(("parts_cost", "symptom"), (text, "1,5 V"))
    result = map_batch(given, TICKETS, Mapping(), decimal=decimal, thousands=thousands)
    # our columns come in the order of the feed
    assert result.rows.select("cell_0", "cell_1").row(0) == ("1,5 V", plain)


def test_header_line_is_told_by_the_needed_columns() -> None:
    mapping = read_mapping(
        {"columns": {"Tag": "at", "Uhr": "at", "Was": "event"}, "constants": {"machine": "VT1"}}, EVENTS, ""
    )
    assert wanted_columns(EVENTS, mapping) == ("Tag", "Uhr", "Was")
    parts = read_mapping(
        {"parts": {"msg": "(?P<event>.)(?P<m>.)"}, "columns": {"m": "machine", "host": "detail"}}, EVENTS, ""
    )
    assert wanted_columns(EVENTS, parts) == ("at", "msg")


def test_a_column_that_the_file_lacks_is_named_with_the_nearest() -> None:
    mapping = Mapping(columns=(("Maschine", ("machine",)),))
    with pytest.raises(
        FeedError, match=r'a.csv has no column "Maschine", .* It has: Zeit, Mashine\. Did you mean "Mashine"\?'
    ):
        check_mapped("a.csv", ("Zeit", "Mashine"), mapping)
    check_mapped("a.csv", ("MASCHINE",), mapping)


def test_no_row_is_lost() -> None:
    given = batch(("event",), *[(word,) for word in ("a", "b", None, "tick") * 50])
    result = map_batch(given, EVENTS, Mapping(words=(Words("event", (("tick", ""),), (), ()),)))
    assert result.read_count == given.read_count == 200
