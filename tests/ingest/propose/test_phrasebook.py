"""The list of synonyms, which people edit, and the likeness of names."""

from __future__ import annotations

import unicodedata
from itertools import combinations

import pytest

from pipeline.ingest.feeds import EXPORTED
from pipeline.ingest.propose.phrasebook import fold, is_misspelled, likeness, phrasebook


@pytest.mark.parametrize("group", ["columns", "words"])
def test_no_phrase_means_two_of_ours(group: str) -> None:
    for table in getattr(phrasebook(), group).values():
        for (one, phrases), (other, others) in combinations(table.items(), 2):
            assert not set(phrases) & set(others), (one, other)


def test_every_column_and_word_of_ours_is_known_by_its_own_name() -> None:
    for feed in EXPORTED:
        for column in feed.columns:
            assert column.name.replace("_", " ") in phrasebook().columns[feed.name][column.name]
            for word in column.words:
                assert word.replace("_", " ") in phrasebook().words[column.name][word]


@pytest.mark.parametrize(
    ("text", "folded"),
    [
        ("FromMachine", "from machine"),
        ("Störungs-Nr.", "storungs nr"),
        ("  Åtgärd\t", "atgard"),
        ("Número de\u00a0diffusion", "numero de diffusion"),
        ("Straße", "strasse"),
        ("søknad", "soknad"),
        ("value (ms)", "value ms"),
    ],
)
def test_accents_case_and_marks_do_not_matter(text: str, folded: str) -> None:
    assert fold(text) == fold(unicodedata.normalize("NFD", text)) == folded


def test_likeness_is_one_for_the_phrase_and_less_for_all_else() -> None:
    assert likeness("machine", ("unit", "machine"))[0] == 1.0
    assert 0.5 < likeness("tape machine", ("machine",))[0] < 0.9
    assert likeness("machien", ("machine",))[0] > 0.6
    assert likeness("kitchen", ("machine",)) == (0.0, "")
    assert likeness("zeit", ("seit",)) == (0.0, "")  # too short for a slip of the pen


def test_a_slip_is_one_letter_in_short_and_two_in_long_phrases() -> None:
    assert is_misspelled("alrm", "alarm")
    assert is_misspelled("aalrm", "alarm")  # two neighbours changed places: one slip
    assert not is_misspelled("larm", "alram")
    assert is_misspelled("pictuer lost", "picture lost")
    assert not is_misspelled("picture last", "picture lost")  # "last" is a word of its own
    assert not is_misspelled("annat hus", "annat rum")
    assert not is_misspelled("offset1", "offset")
    assert not is_misspelled("alarm c", "alarm")
    assert not is_misspelled("alarm", "alarm")
    assert not is_misspelled("tale", "take")  # a word of four letters is a code
