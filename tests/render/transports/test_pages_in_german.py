"""The comparison of the transports and the case in German: no English sentence is left, and numbers have the comma."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest

from pipeline.render.comparisons import compare_transports
from pipeline.render.filling import fill, page_environment
from pipeline.render.language import speaking
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.transports import case_inputs, case_words
from pipeline.render.transports.case_page import case_sheets
from pipeline.render.transports.ratio_chart import Marks, ratio_layers, ratio_row
from pipeline.render.transports.sheets import counts_by_page
from pipeline.render.transports.side_by_side import transport_sheet
from pipeline.render.transports.side_by_side_funnel import rate_funnel
from pipeline.render.transports.side_by_side_measures import of_measure
from pipeline.render.transports.side_by_side_tables import age_class, day_part, months_words
from pipeline.render.transports.side_by_side_words import answer, scatter, verdict
from tests.measure.transports.test_case import COSTS, A, B
from tests.render.small_room import HOSTILE_MACHINE
from tests.render.transports.test_case_page import section
from tests.render.transports.test_side_by_side import NONE, judged

WORD = re.compile(r"[^\W\d_]{3,}")
SHORTEST = 3  # such words; what has fewer may be a name, a unit or the same in both languages
ENGLISH = re.compile(r"\b(?:the|of|and|with|what|which|than|from|is|are|its|by)\b")
GERMAN = ("de", "de-DE")


def sheets(reading: Reading, has_costs: bool) -> list[Sheet]:
    """The sheets of these pages in the language in force; ``reading`` has no sheet of the other pages to quote."""
    costs = COSTS if has_costs else None
    figures = {**reading.figures, "transports": {**reading.figures["transports"], "case": section([A, B], costs)}}
    own = replace(reading, figures=figures, settings=replace(reading.settings, costs=costs))
    front = transport_sheet(own, compare_transports(own.figures["machines"]))
    more = {"elsewhere": [], "counts": counts_by_page(reading.figures)}
    return [replace(front, context={**front.context, **more}), *case_sheets(own)]


def texts(reading: Reading, sheet: Sheet) -> list[str]:
    """What stands between the marks of the page's body, and what its marks say, of more than a few words."""
    html = fill(page_environment(reading), sheet)
    body = html[html.index("<main") : html.index("</main>")]
    body = re.sub(r'<svg role="img" aria-label="([^"]*)".*?</svg>', r"<p>\1</p>", body, flags=re.S)
    body = re.sub(r"<code>[^<]*</code>", "", body)  # keys of site.toml are the same in every language
    found = [" ".join(unescape(text).split()) for text in re.split(r"<[^>]+>", body)]
    found += [unescape(label) for label in re.findall(r'aria-label="([^"]*)"', body)]
    found = [text.replace(HOSTILE_MACHINE, "") for text in found]
    return [text for text in found if len(WORD.findall(text)) >= SHORTEST]


@pytest.mark.parametrize("has_costs", [True, False])
def test_no_english_sentence_is_left(reading: Reading, has_costs: bool) -> None:
    english = {text for sheet in sheets(reading, has_costs) for text in texts(reading, sheet)}
    with speaking(*GERMAN):
        german = [text for sheet in sheets(reading, has_costs) for text in texts(reading, sheet)]
    assert len(german) > 60
    left = sorted({text for text in german if text in english or len(ENGLISH.findall(text)) > 1})
    assert left == []


def test_english_is_what_it_was_after_german(reading: Reading) -> None:
    before = [texts(reading, sheet) for sheet in sheets(reading, True)]
    with speaking(*GERMAN):
        sheets(reading, True)
    assert [texts(reading, sheet) for sheet in sheets(reading, True)] == before


def test_numbers_have_the_comma_and_counts_their_plural() -> None:
    """40 of 50 in like hours is 4 times the others'; 1234.5 is 1.234,5 and 5.25 % is 5,25 % in German."""
    with speaking(*GERMAN):
        told = verdict(judged([40, 10], [100.0, 100.0]))[0]
        assert "(berücksichtigt: 2 Vergleiche)" in told
        assert "T1 mit dem 4,00-Fachen der Reserveumschaltungen je Sendestunde der anderen" in told
        assert "korrigiert p unter 0,001" in told
        assert case_inputs.amount("lost_per_s", 1234.5, "Kronen", is_stated=True) == "1.234,5 Kronen"
        assert case_inputs.amount("discount_rate", 0.0525, "Kronen", is_stated=True) == "5,25 %"
        assert case_inputs.amount("overhaul_life_years", 1.0, "Kronen", is_stated=True) == "1 Jahr"
        assert case_words.odds(0.999) == "über 99 %"
        assert (age_class("under 1 days"), age_class("under 105 days")) == ("unter 1 Tag", "unter 105 Tagen")
        assert (age_class("34 to 80 days"), age_class("90 days and over")) == ("34 bis 80 Tage", "90 Tage und älter")
        assert (age_class("34 days"), age_class("any age")) == ("34 Tage", "jedes Alter")
        assert (day_part("06:00 to 12:00"), months_words(3.353)) == ("06:00 bis 12:00", "3,35")


def test_sentences_of_rare_rooms_are_german_too() -> None:
    """Those that the small room has no cause for: too few, one with all events, many events on few occasions."""
    clustered = {"measure": "air", "dispersion": {"months_count": 3, "index": 2.5, "p": 0.004}}
    with speaking(*GERMAN):
        told = [
            *answer(judged([0, 0], [10.0, 10.0]), NONE, []),
            *verdict(judged([0, 0, 0], [100.0] * 3, [30, 0, 0])),
            *scatter(clustered, 0.05),
        ]
    assert [len(ENGLISH.findall(text)) for text in told] == [0, 0, 0]
    assert "T1, die als Einzige Deckungsverluste hat" in told[1]
    assert "das 2,50-Fache" in told[2]


def test_charts_speak_german_and_write_their_axes_with_the_comma() -> None:
    measure = of_measure(judged([12, 10, 9, 60], [300.0, 250.0, 240.0, 300.0]), "air")
    row = ratio_row("T1", "seen", {"value": 1.0, "low": 0.5, "high": 2.0}, "")
    with speaking(*GERMAN):
        funnel = rate_funnel(measure, 0.05, "funnel")
        axis = str(ratio_layers([row], "", Marks("seen")).to_dict(validate=False))
    assert funnel is not None
    assert "Stunden auf Sendung" in funnel.svg
    assert "Trichter mit 4 Maschinen" in funnel.says
    assert "replace(datum.label, '.', ',')" in axis
