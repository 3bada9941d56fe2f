"""Lines as text and as plain values: readable, harmless to a terminal, and honest where they do not add up."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime

import polars as pl

from pipeline.evidence import Lines, Scope
from pipeline.evidence.proofs import SCHEMA
from pipeline.evidence.scope import ITEM_SCHEMA, PLACE_SCHEMA, derived, summed
from pipeline.evidence.telling import lines_data, lines_text, names_text, number_text
from tests.evidence.rooms import Room

AT = datetime(2031, 3, 10, 19, 10)  # noqa: DTZ001 - naive UTC, as in all tables


def lost(what: str = "lost") -> Lines:
    row = {
        "started_at_utc": AT, "ended_at_utc": AT.replace(second=4, microsecond=500_000), "channel": "One",
        "machine": "A", "what": what, "amount_us": 4_500_000, "month": "2031-03", "kind": "air", "number": None,
        "file": None, "line": None, "says": None,
    }  # fmt: skip
    schema = ITEM_SCHEMA | {"amount_us": pl.Int64, "month": pl.String} | PLACE_SCHEMA
    return summed("lost_s", Scope(channel="One"), 4.5, pl.DataFrame([row], schema=schema))


def source(text: str) -> pl.DataFrame:
    return pl.DataFrame([(1, "begins", "events/A.csv", 7, text, "A: picture lost")], schema=SCHEMA, orient="row")


def test_by_hand() -> None:
    assert lines_text(lost(), source("2031-03-10T19:10:00Z,A,picture_lost,,"), 20).splitlines() == [
        "lost_s of channel One: 4.5",
        "It is the sum of these stretches, each cut where a month ends.",
        "   1  2031-03-10 19:10:00 to 19:10:04.5 UTC: One, A: lost: 4.5 s",
        "      begins: events/A.csv, line 7: A: picture lost",
        "            2031-03-10T19:10:00Z,A,picture_lost,,",
        "1 line, together 4.5",
    ]


def test_what_does_not_add_up_is_said() -> None:
    wrong = replace(lost(), value=4.6)
    assert "THIS IS NOT THE FIGURE, which is 4.6" in lines_text(wrong, source(""), 20)
    assert lines_data(wrong, source(""), 20)["is_right"] is False


def test_a_derived_figure_names_what_it_is_worked_out_from() -> None:
    told = derived("continuity", Scope(), 0.5, how="half", of=("air_s", "lost_s"), total=0.5)
    assert lines_text(told, pl.DataFrame(schema=SCHEMA), 20).splitlines() == [
        "continuity of the whole site: 0.5", "It is half.", "Worked out anew from air_s, lost_s: 0.5",
    ]  # fmt: skip


def test_a_terminal_gets_no_commands_and_no_endless_line() -> None:
    """ESC is where a terminal's commands begin (ECMA-48, 5.2); a carriage return would write over what stands there."""
    told = lines_text(lost("\x1b[2Jlost\r\nnone"), source("\x1b]0;x\x07" + "y" * 5000), 20)
    assert not set(told) & {"\x1b", "\x07", "\r"}
    assert max(map(len, told.splitlines())) < 400
    assert len(told.splitlines()) == 6


def test_nothing_is_no_line() -> None:
    none = summed("lost_s", Scope(), 0.0, lost().items.drop("item").clear())
    assert lines_text(none, pl.DataFrame(schema=SCHEMA), 20).splitlines()[-1] == "no line, together 0.0"


def test_numbers_keep_all_their_digits() -> None:
    told = [number_text(value) for value in (None, 0, 1234567, 0.9997164255600026, 13.619)]
    assert told == ["not known", "0", "1,234,567", "0.9997164255600026", "13.619"]


def test_choices_with_commas_are_quoted() -> None:
    told = names_text(Scope(), {"air_s": 1.5}, {"cause": ["operations", "cooling, air and power: mains"], "file": []})
    assert told.splitlines()[-1] == '--cause: operations, "cooling, air and power: mains"'
    assert "air_s" in told.splitlines()[1]


def test_everything_is_plain_for_json(sample: Room) -> None:
    for figure in ("lost_s", "to_take_s.n", "to_take_s.median", "rows.set_aside"):
        lines = sample.evidence.lines(figure, Scope())
        data = json.loads(json.dumps(lines_data(lines, sample.evidence.sources(lines.items, 5), 5), allow_nan=False))
        assert data["count"] == lines.items.height
        assert len(data["items"]) == min(5, lines.items.height)
        assert all(item["sources"] for item in data["items"])
