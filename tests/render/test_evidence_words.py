"""What the evidence says, in another language: every formula known, values kept, and English left as it is."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from pipeline.evidence import causes, clocks, comparisons, formulas, scope, standby
from pipeline.render import evidence_words
from pipeline.render.evidence_words import formula, item_words, proof_words, side_word
from pipeline.render.language import speaking

TEXTS = set(tomllib.loads(Path(evidence_words.__file__).with_suffix(".toml").read_text(encoding="utf-8"))["texts"])


def test_every_formula_is_among_the_texts_that_are_translated() -> None:
    told = {*scope.SUMMED.values(), *formulas.CONTINUITY.values(), *formulas.RATES.values(), *causes.HOW.values()}
    told |= {text.removesuffix(" {of}") for text in formulas.QUANTILES.values()}
    told |= {causes.RUNNING, standby.HOW, clocks.PAIRS_HOW, clocks.OFFSET_HOW, *comparisons.HOW.values()}
    of_months = [*comparisons.OF_MONTHS.values(), "all other months together"]
    told |= {comparisons.AGAINST.format(what="month", others=others) for others in of_months}
    told |= {comparisons.AGAINST.format(what="machine", others="all other machines together")}
    assert told == TEXTS


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("lost, on standby (transmission TX7)", "ausgefallen, auf Standby (Sendung TX7)"),
        (
            "forced switch from VT1 to standby (transmission A (late))",
            "erzwungene Umschaltung von VT1 auf Standby (Sendung A (late))",
        ),
        ("lost air: 1.25 s", "ausgefallene Sendezeit: 1,25 s"),
        (
            "interruption, ticket F7 (guessed from words: heads, worn)",
            "Unterbrechung, Störmeldung F7 (aus dem Wortlaut vermutet: heads, worn)",
        ),
        ("interruption, no ticket (none)", "Unterbrechung, keine Störmeldung (keiner)"),
        ("what nobody has foreseen", "what nobody has foreseen"),
    ],
)
def test_an_item_in_german(english: str, german: str) -> None:
    assert item_words(english) == english
    with speaking("de", "de-DE"):
        assert item_words(english) == german


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("take from VT1 to VT2, reason fault", "Schaltung von VT1 auf VT2, Grund: Störung"),
        ("take to other", "Schaltung auf andere Quelle"),
        ("booking of VT 1 as air ends", "Buchung von VT 1 als Sendung endet"),
        ("ticket 12, from which the cause is read", "Störmeldung 12, aus der die Ursache gelesen ist"),
        ("books VT1 to air", "bucht VT1 auf Sendung"),
        ("put the channel on another source", "legte den Kanal auf eine andere Quelle"),
        ("VT1: drum: alarm", "VT1: drum: Alarm"),
    ],
)
def test_a_proof_in_german(english: str, german: str) -> None:
    assert proof_words(english) == english
    with speaking("de", "de-DE"):
        assert proof_words(english) == german


def test_a_formula_keeps_the_names_of_figures() -> None:
    how = "the Kaplan–Meier median of the times listed under to_air_s.n"
    assert formula(how) == how
    with speaking("de", "de-DE"):
        assert formula(how) == "der Kaplan–Meier-Median der Zeiten, aufgeführt unter to_air_s.n"
        assert side_word("ends") == "endet"
