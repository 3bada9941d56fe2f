"""An incident in German: no sentence stays English, numbers have the comma, and what machines read stays as it is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from pipeline.render.cause_names import cause_text, cause_word
from pipeline.render.incident_cause import SIDES, cause_words, switch_kind
from pipeline.render.incident_text import incident_data, incident_text
from pipeline.render.incidents import incident_sheets
from pipeline.render.language import speaking
from pipeline.render.log_words import event_word
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.told_times import clock, offset_words
from pipeline.render.witness import Witness
from tests.render.small_room import at

DECIMAL_POINT = re.compile(r"(?<![:\d])\d+\.\d+ (?:s|ms|min|h|%)")
EVENTS = ("roll", "stop", "lock", "unlock", "picture_lost", "picture_back", "sound_lost", "sound_back", "clear")


def said(sheet: Sheet) -> Iterator[str]:
    """Every sentence of an incident's page that is told by itself."""
    context = sheet.context
    yield from (sheet.title, context["headline"], *context["unordered"], *sheet.not_known)
    for one in (*(sentence for told in context["accounts"] for sentence in told["sentences"]), *context["lead_up"]):
        yield one.text
    yield from (sentence.text for sentence in context["preserve"])
    yield from (row["moment"].what for row in context["moments"])
    yield from (text for figure in context["figures"] for text in (figure["says"], figure["caption"]))
    yield from (row["doing"] for row in context["room"])
    yield from (row["air"] for row in context["spans"])


@pytest.fixture(scope="module")
def both(reading: Reading) -> list[tuple[Sheet, Sheet]]:
    english = list(incident_sheets(reading))
    with speaking("de", "de-DE"):
        return list(zip(english, incident_sheets(reading), strict=True))


def test_no_sentence_stays_english(both: list[tuple[Sheet, Sheet]]) -> None:
    pairs = [pair for sheets in both for pair in zip(said(sheets[0]), said(sheets[1]), strict=True)]
    assert len(pairs) > 80
    assert [english for english, german in pairs if english == german] == []


def test_numbers_have_the_comma(both: list[tuple[Sheet, Sheet]]) -> None:
    told = " ".join(text for _, german in both for text in said(german))
    assert DECIMAL_POINT.findall(told) == []
    # The take of the first incident: 14 s after a loss, its ± 0.25 s of the machine's clock (tests of the account).
    assert "(± 0,25 s)" in told
    assert "10. Februar 2031" in told


def test_the_text_is_german_and_its_keys_are_not(both: list[tuple[Sheet, Sheet]], reading: Reading) -> None:
    english, german = both[0]
    with speaking("de", "de-DE"):
        text, data = incident_text(german, reading), incident_data(german, reading)
    plain = incident_data(english, reading)
    assert all(heading in text.splitlines() for heading in ("Was geschah", "Die Zeitpunkte", "Was nicht bekannt ist"))
    assert max(len(line) for line in text.splitlines()) <= 78
    assert _keys(data) == _keys(plain)
    assert [row["state"] for row in data["air"]] == [row["state"] for row in plain["air"]]
    assert [row["clock"] for row in data["moments"]] == [row["clock"] for row in plain["moments"]]


def _keys(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _keys(one) for key, one in value.items()}
    return [_keys(one) for one in value] if isinstance(value, list) else None


def test_words_of_the_logs_and_of_causes_are_german() -> None:
    with speaking("de", "de-DE"):
        assert [event for event in EVENTS if event_word(event) == event.replace("_", " ")] == []
        assert event_word("never heard of") == "never heard of"
        assert cause_text("signal electronics", "tube") == "Signalelektronik: Röhre"
        assert cause_word("a word of the room's own list") == "a word of the room's own list"
        assert offset_words({"value": -0.0123}) == "−12 ms"
        assert switch_kind("precaution") == "eine vorsorgliche Umschaltung"
    assert (event_word("unlock"), switch_kind(None)) == ("unlock", "a switch")


def test_a_time_of_another_day_fits_behind_its_word(reading: Reading) -> None:
    """19:30 UTC on 11 February is 20:30 in Stockholm (CET is an hour ahead of UTC: from memory)."""
    part = {"started_at_utc": at("02-10 19:30:00")}
    with speaking("de", "de-DE"):
        assert clock(at("02-11 19:30:00"), part, reading.local) == "20:30:00 Uhr CET am 11. Februar 2031"
    assert clock(at("02-11 19:30:00"), part, reading.local) == "11 February 2031 at 20:30:00 CET"


@pytest.mark.parametrize("cause", SIDES)
def test_every_side_of_a_cause_is_told_in_german(cause: tuple[str, str], reading: Reading) -> None:
    part = {
        "ticket": "K-1", "machine": "T1", "top": cause[0], "second": cause[1], "grade": "stated", "words": "",
        "cause_ruling": None,
    }  # fmt: skip
    witness = Witness({"tickets": [{"ticket": "K-1", "machine": "T1", "file": "tickets.csv", "line": 5}]})
    english = [sentence.text for sentence in cause_words(part, witness, reading.local)]
    with speaking("de", "de-DE"):
        german = [sentence.text for sentence in cause_words(part, witness, reading.local)]
    assert german[0].startswith("Störmeldung K-1 gibt die Ursache an: ")
    assert german[1].startswith("Danach liegt sie ")
    assert set(german).isdisjoint(english)
