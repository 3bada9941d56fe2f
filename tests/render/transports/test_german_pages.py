"""The pages on the year ahead, parts, recordings, care and pairs in German: no sentence stays English."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from html import unescape
from typing import Any

import numpy as np
import pytest

from pipeline.measure.coincidences import Faults
from pipeline.measure.transports.outlook.reading import Sign
from pipeline.measure.transports.together.measuring import judge_together
from pipeline.render.filling import fill, page_environment
from pipeline.render.language import speaking
from pipeline.render.pattern_words import onset_word
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.transports.care_page import care_sheets
from pipeline.render.transports.care_words import not_known as care_not_known
from pipeline.render.transports.care_words import told
from pipeline.render.transports.outlook_page import outlook_sheets, signed
from pipeline.render.transports.outlook_words import answers, rough
from pipeline.render.transports.parts_missing import not_known as parts_not_known
from pipeline.render.transports.parts_page import parts_sheets
from pipeline.render.transports.parts_words import answer as parts_answer
from pipeline.render.transports.parts_words import reading_of_shape, why_no_fit
from pipeline.render.transports.recording_counts import counted_words
from pipeline.render.transports.recording_counts import not_known as recording_not_known
from pipeline.render.transports.recording_page import recording_sheets
from pipeline.render.transports.recording_ratios import ratio_text, times_text
from pipeline.render.transports.recording_words import opening, recordist_word
from pipeline.render.transports.together_numbers import once_in
from pipeline.render.transports.together_page import together_sheets
from pipeline.render.transports.together_returns import not_known as together_not_known
from pipeline.render.transports.together_returns import returning
from pipeline.render.transports.together_words import answer as together_answer
from tests.measure.transports.test_care import cells, cleaned_only
from tests.render.transports import test_care_page as care
from tests.render.transports import test_outlook_page as outlook
from tests.render.transports import test_parts_page as parts
from tests.render.transports import test_recording_page as recording
from tests.render.transports import test_together_page as together

Sentences = Callable[[], list[str]]
ENGLISH_POINT = re.compile(r"\d\.\d{1,2}(?!\d)")  # a thousand is parted by three digits, so this is no German number
ENGLISH = re.compile(r"\b(?:the|of|and|with|is|are|were|that|than|which|not|no|each|by|from|to)\b", re.IGNORECASE)
STAMP = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?")  # stays as it is in every language


def worn_room() -> dict[str, Any]:
    worn = outlook.watch("T1", 100 * ((np.arange(40) + 0.5) / 40) ** 0.2)
    days = np.arange(30.0)
    signs = (
        Sign("T1", "lock", days, 3.0 + days / 100, 30, by_week=False),
        Sign("T1", "offset", days, 1.0 - days / 100, 30, by_week=False),
    )
    steady = (outlook.watch(f"T{number}", np.linspace(1, 99, 40)) for number in (2, 3))
    return outlook.found(worn, *steady, signs=signs, without_lock=("T2",))


def burst_room() -> dict[str, Any]:
    burst = outlook.watch("T1", np.linspace(51, 59, 30))
    retired = outlook.watch("T9", [1.0], is_retired=True)
    return outlook.found(burst, *(outlook.watch(f"T{n}", [10, 50]) for n in range(2, 8)), retired)


def of_outlook() -> list[str]:
    short = outlook.found(outlook.watch("T1", [1, 2]), span_h=240.0)
    rooms = (outlook.quiet_room(), worn_room(), burst_room(), short, outlook.found())
    return [line for room in rooms for line in answers(room)]


def of_parts() -> list[str]:
    early = {**parts.KIND, "verdict": "fails early"}
    silent = {**parts.KIND, "verdict": "not told", "weibull": {**parts.WEIBULL, "adjusted_p": 0.2}}
    unlike = {**parts.KIND, "machines": {"p": 0.001, "adjusted_p": 0.002}}
    rooms = [
        parts.found(kinds=kinds) for kinds in ([], [parts.KIND, parts.RARE], [early, silent], [unlike], [parts.RARE])
    ]
    lines = [line for room in rooms for line in (*parts_answer(room), *parts_not_known(room))]
    once = {**parts.RARE, "weibull_why": "fitted once only"}
    ties = {**parts.RARE, "weibull_why": "all failures are at the longest life"}
    return [*lines, *map(reading_of_shape, (parts.KIND, early, silent)), why_no_fit([parts.RARE, once, ties])]


def of_recording() -> list[str]:
    named = named_recordings()
    faults = recording.found()["faults"]
    lacking = faults | {
        "no_label_h": 20.0, "no_label_count": 2, "no_reel_h": 3.5, "no_reel_count": 1, "not_booked_count": 1,
        "common_count": 3, "repeated_count": 4,
    }  # fmt: skip
    many = {"players": 90, "recorders": 5, "recordists": 2}
    rooms = [
        recording.found(), named, recording.found(cells=[]), recording.found(faults=faults | {"counted_count": 0}),
        recording.found(cells=[], faults=faults | {"played_h": 0.0}),
    ]  # fmt: skip
    lines = [line for room in rooms for line in opening(room)]
    return [*lines, *counted_words(lacking), *recording_not_known(recording.found(faults=lacking, names_count=many))]


def named_recordings() -> dict[str, Any]:
    own = {"ratio": recording.ratio(None, 1.9, None), "adjusted_p": 0.002, "is_named": True}
    shift = {"recordist": "recordist 2", **recording.NAMED}
    group = {"recorders": ["R1"], "players": ["P1"], "ratio": recording.ratio(2.0, 1.5, 3.0)}
    return recording.found(
        players=[recording.player("P1", **recording.NAMED, is_cleared=False), recording.player("P2")],
        recorders=[recording.recorder("R1", own=own), recording.recorder("R2", **recording.NAMED)],
        recordists=[recording.recorder("recordist 2", **shift)],
        spread={"is_named": True, "p": 0.001, "adjusted_p": 0.01, "left_out_count": 0},
        inseparable=[{**group, "is_cut_off": True}, {**group, "is_cut_off": False}],
    )


def of_care() -> list[str]:
    rows = [("a", True, 0, 1.0), ("a", False, 40, 200.0), ("b", False, 40, 199.0)]
    rooms = [
        care.named_room(40, 10), care.named_room(10, 40), care.named_room(20, 20), care.found_of(cells()),
        care.found_of(cleaned_only(*rows)), care.found_of(cleaned_only(("T1", False, 1, 9.0)), {"clean_count": 10}),
        care.found_of(cells(("T1", None, True, True, True, 3, 2, 5.0)), events_outside_count=2),
    ]  # fmt: skip
    return [line for room in rooms for line in (*told(room), *care_not_known(room))]


def of_together() -> list[str]:
    rooms = [
        together.found(50_000, 90_000, 200_000, alone=7), together.found(alone=20), together.found(),
        together.found(50_000, 70_000, alone=3, what="picture lost"), together.found(50_000, alone=3),
        judge_together(Faults((), {}, {}), set()),
    ]  # fmt: skip
    return [line for room in rooms for line in (*together_answer(room), *returning(room), *together_not_known(room))]


@pytest.mark.parametrize("sentences", [of_outlook, of_parts, of_recording, of_care, of_together])
def test_every_sentence_is_german(sentences: Sentences) -> None:
    english = sentences()
    with speaking("de", "de-DE"):
        german = sentences()
    assert len(german) == len(english) > 5
    for told_in_english, told_in_german in zip(english, german, strict=True):
        assert told_in_german != told_in_english
        assert not ENGLISH_POINT.search(told_in_german), told_in_german
        assert "{" not in told_in_german


def test_numbers_have_the_comma_and_words_of_counts_are_figures() -> None:
    with speaking("de", "de-DE"):
        # The English tests of these functions have "2.3", "five", "+0.023", "2.00 (1.10 to 3.60)", "once in 6.8".
        assert [rough(value) for value in (2.34, 4.81, 2923.0)] == ["2,3", "5", "2.900"]
        assert signed(0.0226) == "+0,023"
        assert ratio_text(recording.ratio(2.0, 1.1, 3.6)) == "2,00 (1,10 bis 3,60)"
        assert times_text(recording.ratio(None, 1.1, None)) == "mindestens 1,10-mal"
        assert [once_in(chance) for chance in (0.147, 0.0389, 2.5e-5, 0.0)] == [
            "1 von 6,8",
            "1 von 26",
            "1 von 40.000",
            "nie",
        ]
        assert onset_word("picture lost") == "Bildausfall"
        assert onset_word("forced switch") == "erzwungene Umschaltung"


def test_pseudonyms_are_put_into_german_and_names_are_not() -> None:
    with speaking("de", "de-DE"):
        assert recordist_word("recordist 2") == "Aufzeichnungskraft 2"
        assert recordist_word("recordist A. N.") == "recordist A. N."
    assert recordist_word("recordist 2") == "recordist 2"


SHEETS: dict[str, tuple[Callable[[Reading], Iterator[Sheet]], Callable[[], dict[str, Any]]]] = {
    "outlook": (outlook_sheets, worn_room),
    "parts": (parts_sheets, lambda: parts.FOUND),
    "care": (care_sheets, lambda: care.named_room(40, 10)),
    "together": (together_sheets, lambda: together.found(50_000, 70_000, alone=3, what="picture lost")),
}


@pytest.mark.parametrize("name", SHEETS)
def test_no_text_of_a_page_stays_english(reading: Reading, name: str) -> None:
    sheets, room = SHEETS[name]
    german = replace(reading.settings, language="de", locale="de-DE")
    full = replace(reading, settings=german, figures={**reading.figures, "transports": {name: room()}})
    with speaking("de", "de-DE"):
        (sheet,) = sheets(full)
        html = fill(page_environment(full), sheet)
    texts = [unescape(text) for text in re.findall(r">([^<]+)<", html.split("<main")[1].split("</main>")[0])]
    alternatives = [unescape(text) for text in re.findall(r'aria-label="([^"]*)"', html.split("<main")[1])]
    shown = [STAMP.sub("", text) for text in (*texts, *alternatives) if text.strip()]
    assert len(shown) > 60
    assert [text for text in shown if len(ENGLISH.findall(text)) > 1] == []
    assert [text for text in shown if ENGLISH_POINT.search(text)] == []


def test_the_recording_page_is_german(reading: Reading) -> None:
    with speaking("de", "de-DE"):
        (sheet,) = recording_sheets(reading)
    assert sheet.title == "Wiedergabe, Aufzeichnung oder Band"
    assert "sagt kein Etikett, welche Maschine aufzeichnete" in sheet.context["told"][0]
