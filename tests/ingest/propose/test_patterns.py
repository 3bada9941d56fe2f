"""Patterns cut texts the same in the engine that reads the file, and never read an end of an alarm as its beginning."""

from __future__ import annotations

import re
from collections import Counter

import polars as pl
import pytest

from pipeline.ingest.propose.patterns import Groups, Parts, propose_parts

TEXTS = {
    "ROLL": ("ROLL", None, None),
    "OFFSET -0.04": ("OFFSET", "-0.04", None),
    "OFFSET: 0,08 s": ("OFFSET", "0,08", None),
    "OFFSET VT2 0.02": ("OFFSET", "0.02", "VT2"),
    "HOURS 10233.5 h": ("HOURS", "10233.5", None),
    "ALARM tension low": ("ALARM", None, "tension low"),
    "ALARM OFF": ("ALARM OFF", None, None),
    "ALARM OFF tension low": ("ALARM OFF", None, "tension low"),
    "REEL MOTOR 3": ("REEL MOTOR 3", None, None),
}


def _parts(*texts: str, groups: Groups | None = None) -> Parts:
    parts = propose_parts(dict.fromkeys(texts, 1), groups or Groups())
    assert parts is not None
    return parts


def _cut(parts: Parts, text: str) -> dict[str, str | None]:
    pattern = next(pattern for pattern, _ in parts.patterns if re.fullmatch(pattern, text))
    cells: dict[str, str | None] = pl.Series([text]).str.extract_groups(pattern).struct.unnest().row(0, named=True)
    assert {name: cells.get(name) for name in re.compile(pattern).groupindex} == re.fullmatch(pattern, text).groupdict()
    return {"value": None, "detail": None} | cells


def test_each_text_is_cut_as_its_author_says() -> None:
    parts = _parts(*TEXTS)
    for text, (event, value, detail) in TEXTS.items():
        cells = _cut(parts, text)
        assert (cells["event"], cells["value"], cells["detail"]) == (event, value, detail)
    assert parts.events == Counter(event for event, _, _ in TEXTS.values())
    assert set(parts.values) == {value for _, value, _ in TEXTS.values() if value}


@pytest.mark.parametrize(
    ("texts", "text", "event"),
    [
        # The list of synonyms has none of these ends; the texts beside them give them away, or a word such as "over".
        (("ALARM hum", "ALARM beendigt hum"), "ALARM beendigt hum", "ALARM beendigt"),
        (("ALARM", "ALARM gone", "ALARM hum"), "ALARM gone", "ALARM gone"),
        (("ALARM", "ALARM kaputt", "ALARM hum low"), "ALARM kaputt", "ALARM kaputt"),
        (("ALARM hum", "ALARM hum over"), "ALARM hum over", "ALARM hum over"),
        (("ALARM hum", "ALARM hum voorbij"), "ALARM hum voorbij", "ALARM hum voorbij"),
    ],
)
def test_an_end_is_asked_about_and_not_taken_for_an_alarm(texts: tuple[str, ...], text: str, event: str) -> None:
    assert _cut(_parts(*texts, "OFFSET 1"), text)["event"] == event


def test_what_another_column_holds_is_not_cut_out() -> None:
    assert _parts(*TEXTS, groups=Groups("", "")).names == {"event"}
    assert _parts(*TEXTS, groups=Groups("value_in_text", "")).names == {"event", "value_in_text"}


def test_marks_of_patterns_in_a_phrase_stand_for_themselves() -> None:
    parts = _parts("(ALARM) a.b", "ALARM* c")
    assert _cut(parts, "(ALARM) a.b")["detail"] == "a.b"
    assert _cut(parts, "ALARM* c")["event"] == "ALARM*"


def test_words_alone_need_no_patterns() -> None:
    assert propose_parts({"ROLL": 3, "STOP": 2}, Groups()) is None
