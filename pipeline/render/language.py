"""The pages' words and numbers in the site's language: English stands in the code, catalogues hold the others.

Every text that a page shows goes through `say` or `say_counted`, every number through `decimal` or `whole`. The
language in force is set once for a whole rendering, by `speaking`; without it pages speak English. Catalogues are
gettext files, `languages/<tag>/*.po`; a text that a catalogue lacks stays English, and a test holds that none is.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.dates import format_date, format_skeleton
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import get_decimal_symbol, get_group_symbol
from markupsafe import Markup

FOLDER = Path(__file__).parent / "languages"
SOURCE, SOURCE_LOCALE = "en", "en-GB"


@dataclass(frozen=True, eq=False)
class Language:
    """Words of ``tag``, numbers and dates of ``locale`` (CLDR, by way of Babel)."""

    tag: str
    locale: Locale
    words: gettext.NullTranslations


@contextmanager
def speaking(tag: str, locale: str) -> Iterator[None]:
    """Have everything inside speak ``tag`` and write numbers and dates as in ``locale``, such as "de-AT"."""
    before = _SPOKEN.set(language(tag, locale))
    try:
        yield
    finally:
        _SPOKEN.reset(before)


@cache
def language(tag: str, locale: str) -> Language:
    """The language of these two tags; a tag without catalogues speaks English."""
    return Language(tag, Locale.parse(locale, sep="-"), read_words(tag))


def read_words(tag: str) -> gettext.NullTranslations:
    """All catalogues of a language, one behind the other; of English none."""
    words = gettext.NullTranslations()
    for path in sorted((FOLDER / tag).glob("*.po")) if tag != SOURCE else ():
        with path.open("rb") as file, BytesIO() as compiled:
            write_mo(compiled, read_po(file, locale=tag))
            compiled.seek(0)
            one = gettext.GNUTranslations(compiled)
        one.add_fallback(words)
        words = one
    return words


def spoken_language() -> Language:
    """The language in force."""
    return _SPOKEN.get() or language(SOURCE, SOURCE_LOCALE)


def say(text: str, /, *, about: str = "", **values: object) -> str:
    """``text`` in the language in force, with ``{names}`` filled in; a brace of its own is written twice.

    ``about`` tells apart what is one word in English and several elsewhere ("open": a ticket, or a time cut short).
    """
    return translated(text, about).format(**values)


def say_counted(one: str, many: str, number: int, /, **values: object) -> str:
    """As `say`, in the form for ``number``, which stands in the text as ``{n}``."""
    told = spoken_language().words.ngettext(one, many, number)
    return told.format(n=whole(number), **values)


def translated(text: str, about: str = "") -> str:
    """A text, such as one of definitions.toml, in the language in force; nothing filled in, ``about`` as in `say`."""
    words = spoken_language().words
    if about:
        return words.pgettext(about, text)
    return words.gettext(text) if text else text  # a catalogue's head stands under the empty text


def say_html(text: str, /, *, about: str = "", **values: object) -> Markup:
    """As `say` for templates: ``text`` may hold elements, and whatever is filled in is escaped unless it is markup."""
    return Markup(translated(text, about)).format(**values)  # noqa: S704 - a text of ours, never one of the data


def decimal(value: float, places: int) -> str:
    """A number to ``places`` decimals, as in "1,234.50"; the minus sign is a true one."""
    return localised(f"{value:,.{places}f}")


def whole(value: int) -> str:
    """A whole number, as in "12,345"."""
    return localised(f"{value:,}")


def localised(text: str) -> str:
    """A number as Python writes it, with the separators of the locale in force; the minus sign is a true one."""
    return text.translate(str.maketrans(_separators(spoken_language().locale)))


@cache
def _separators(locale: Locale) -> dict[str, str | int | None]:
    return {",": get_group_symbol(locale), ".": get_decimal_symbol(locale), "-": "−"}


def date_in_words(day: date) -> str:
    """A day as the locale in force writes it out, such as "14 March 2031"."""
    return format_date(day, "long", locale=spoken_language().locale)


def month_of_year(year: int, month: int) -> str:
    """A month, 1 to 12, with its year, such as "March 2031"."""
    return format_skeleton("yMMMM", datetime(year, month, 1), locale=spoken_language().locale)  # noqa: DTZ001 - a date


def month_in_short(year: int, month: int) -> str:
    """A month, 1 to 12, standing alone in a table or list, such as "Mar"."""
    return format_date(date(year, month, 1), "LLL", locale=spoken_language().locale)


_SPOKEN: ContextVar[Language | None] = ContextVar("spoken", default=None)
