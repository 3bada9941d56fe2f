"""The pages in another language: nothing is left untranslated, nothing is stale, and every name is filled in."""

from __future__ import annotations

import pytest
from babel import Locale

from pipeline.render.language import decimal, say, say_counted, say_html, speaking, whole
from pipeline.render.words import Local, duration, listed, month_name
from pipeline.settings import LANGUAGES
from tests.catalogue import CATALOGUES, Message, entries, fields, messages

OTHERS = sorted(set(LANGUAGES) - {"en"})


@pytest.fixture(scope="module")
def said() -> list[Message]:
    return messages()


def test_the_languages_are_those_with_catalogues() -> None:
    assert sorted(path.name for path in CATALOGUES.iterdir() if path.is_dir()) == OTHERS
    assert all(Locale.parse(locale, sep="-") for locale in LANGUAGES.values())


def test_texts_are_literals_that_a_catalogue_can_hold(said: list[Message]) -> None:
    assert [message.place for message in said if not message.is_literal] == []


@pytest.mark.parametrize("tag", OTHERS)
def test_every_text_is_translated(said: list[Message], tag: str) -> None:
    held = {key for _, key, forms in entries(tag) if all(forms)}
    assert [(message.place, message.text) for message in said if message.key not in held] == []


@pytest.mark.parametrize("tag", OTHERS)
def test_no_entry_is_stale_or_stands_twice(said: list[Message], tag: str) -> None:
    keys = [key for _, key, _ in entries(tag)]
    assert set(keys) <= {message.key for message in said}
    assert [key for key in set(keys) if keys.count(key) > 1] == []


@pytest.mark.parametrize("tag", OTHERS)
def test_every_form_fills_in_the_same_names(said: list[Message], tag: str) -> None:
    known: dict[tuple[str, str], Message] = {message.key: message for message in said}
    for path, key, forms in entries(tag):
        message = known[key]
        assert len(forms) == (2 if message.plural else 1), (path.name, key)
        if ".toml:" not in message.place:
            assert all(fields(form) == fields(message.text) for form in forms), (path.name, key)


def test_numbers_and_dates_are_those_of_the_locale() -> None:
    """Separators and months as in CLDR: German 1.234,5 and März; Swedish a no-break space and mars."""
    with speaking("de", "de-DE"):
        assert (decimal(1234.5, 1), whole(-1234), month_name("2031-03")) == ("1.234,5", "−1.234", "März 2031")
        assert duration(4.25) == "4,2 s"
    with speaking("en", "sv-SE"):
        assert (decimal(1234.5, 1), month_name("2031-03")) == ("1\u00a0234,5", "mars 2031")
    assert (decimal(1234.5, 1), month_name("2031-03")) == ("1,234.5", "March 2031")


def test_what_is_filled_in_is_escaped() -> None:
    assert say_html("<b>{name}</b>", name="<i>") == "<b>&lt;i&gt;</b>"
    assert say("{{as it is}} {name}", name="{0}") == "{as it is} {0}"
    assert say_counted("{n} row", "{n} rows", 1000) == "1,000 rows"


def test_the_language_ends_with_its_rendering() -> None:
    with speaking("de", "de-DE"), speaking("en", "en-GB"):
        assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(["a", "b"]) == "a and b"
    assert Local.__dataclass_fields__.keys() == {"zone"}
