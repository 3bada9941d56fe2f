"""The margins of printed sheets: what stands there, in the reader's language, and that no text can break out."""

from __future__ import annotations

import re

from pipeline.render.language import speaking
from pipeline.render.print_head import counted_words, print_head, quoted


def read(coded: str) -> str:
    """What a browser makes of a string of CSS: a backslash and six hex digits are one sign (CSS Syntax, 4.3.7)."""
    return re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), coded)


def test_the_printed_head_cannot_break_out() -> None:
    # "<" is 00003c, '"' is 000022.
    assert quoted('a"</style>') == '"a\\000022\\00003c\\00002fstyle\\00003e"'
    style = print_head('"}</style>', "a;b", "*/", "\n")
    assert re.fullmatch(r'[A-Za-z0-9@{}:;",\-/. ()\\]+', style)
    assert "</" not in style
    assert "*/" not in style
    assert style.count("{") == style.count("}") == 4  # the page, and three boxes


def test_the_head_says_site_period_and_data_as_of() -> None:
    style = read(print_head("Room", "Clocks", "May 2031 to June 2031", "30 June 2031 at 20:50 CEST"))
    assert '@top-left{content:"Room: Clocks";' in style
    assert '@top-right{content:"May 2031 to June 2031, data as of 30 June 2031 at 20:50 CEST";' in style
    assert '@bottom-right{content:"page " counter(page) " of " counter(pages);' in style


def test_nothing_is_said_twice() -> None:
    style = read(print_head("Room", "Air hours of Room in May 2031", "May 2031", "1 June"))
    assert '@top-left{content:"Air hours of Room in May 2031";' in style
    assert '@top-right{content:"data as of 1 June";' in style


def test_a_time_in_the_title_is_not_said_again() -> None:
    style = read(print_head("Room", "5 March 2031, 19:35:09.84: channel Two", "2031-03-05 19:35:09.84", "1 June"))
    assert '@top-right{content:"data as of 1 June";' in style
    # A stamp of another time is said, and so is a period whose last word the title holds by chance.
    assert "2031-03-05 19:35:10, data" in read(print_head("Room", "19:35:09", "2031-03-05 19:35:10", "1 June"))
    assert "June 2031, data" in read(print_head("Room 2031", "Clocks", "June 2031", "1 June"))


def test_the_words_before_numbers_are_those_of_the_language() -> None:
    assert counted_words() == ':root{--table:"Table";--figure:"Figure"}'
    with speaking("de", "de-DE"):
        assert counted_words() == ':root{--table:"Tabelle";--figure:"Abbildung"}'


def test_a_long_text_is_cut_and_german_counts_in_german() -> None:
    assert read(quoted("x" * 500)) == f'"{"x" * 120}"'
    with speaking("de", "de-DE"):
        assert 'content:"Seite " counter(page) " von " counter(pages)' in read(print_head("R", "T", "P", "A"))
