"""The style of one page alone: the margins of its printed sheets, and the words that its style sheet writes.

In the margins stand site and page, period, data-as-of and the sheet's number.

The boxes are those of CSS Paged Media (css-page-3, section 5); where a printer does not know them, the title block at
the head of the page says the same. No date of printing: the same page prints the same.
"""

from __future__ import annotations

import re

from pipeline.render.language import say

LONGEST = 120
STAMP = re.compile(r"\d{4}-\d\d-\d\d (\d\d:\d\d:\d\d(?:\.\d\d)?)")
TYPE = "font:7.5pt/1.25 Georgia,serif;vertical-align:bottom"


def print_head(site: str, title: str, period: str, as_of: str) -> str:
    """The style rules of the margin boxes, safe for any text."""
    name = title if site in title else f"{site}: {title}"
    when = [] if _says(title, period) else [period]
    boxes = {
        "top-left": f"{quoted(name)};text-align:left;{TYPE}",
        "top-right": f"{quoted(', '.join([*when, say('data as of {time}', time=as_of)]))};text-align:right;{TYPE}",
        "bottom-right": f"{_sheet_number()};{TYPE}",
    }
    return f"@page{{{''.join(f'@{box}{{content:{content}}}' for box, content in boxes.items())}}}"


def counted_words() -> str:
    """The style rule with the words before the numbers of tables and figures, in the language in force."""
    return f":root{{--table:{quoted(say('Table', about='number'))};--figure:{quoted(say('Figure', about='number'))}}}"


def _says(title: str, period: str) -> bool:
    """Whether a title says the period: as it stands, or as the time of a stamp whose day it writes out."""
    stamp = STAMP.fullmatch(period)
    return period in title or (stamp is not None and stamp[1] in title)


def _sheet_number() -> str:
    """The number of a sheet and of all sheets, with the words around them in the order of the language."""
    parts = say("page {page} of {pages}", page="\0page\0", pages="\0pages\0").split("\0")
    return " ".join(f"counter({part})" if place % 2 else quoted(part) for place, part in enumerate(parts) if part)


def quoted(text: str) -> str:
    """``text`` as a string of CSS, whatever is in it: all but ASCII letters and figures as codes (CSS Syntax 4.3.7)."""
    coded = "".join(
        letter if letter.isascii() and letter.isalnum() else f"\\{ord(letter):06x}" for letter in text[:LONGEST]
    )
    return f'"{coded}"'
