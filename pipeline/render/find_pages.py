"""The register of a report, like the index at a book's end: complete on paper, and searched as one types with a script.

It is split into pages that stay small; the script's data holds all of it and lies beside the pages, so that it works
from a disk. A text of the data is a string there and never an element.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby

from markupsafe import escape

from pipeline.render.find_entries import Entry, Section
from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.reading import Reading
from pipeline.render.sheet import LateSheet, Sheet
from pipeline.render.writing import FIND_DATA

MOST_BYTES = 400_000  # of the entries of a page; the rest of it is small
Groups = list[tuple[str, list[Entry]]]
Part = list[tuple[Section, Groups]]


def noted(sheets: Iterable[Sheet | LateSheet], titles: dict[str, str]) -> Iterator[Sheet | LateSheet]:
    """The sheets as they are, their titles put down by name as they pass."""
    for sheet in sheets:
        titles[sheet.name] = sheet.title
        yield sheet


def find_sheets(reading: Reading, sections: Sequence[Section], most_bytes: int = MOST_BYTES) -> Iterator[Sheet]:
    """The pages of the register."""
    parts = split(sections, most_bytes)
    names = [find_page(number) for number in range(len(parts))]
    pages = [{"href": name, "name": _spoken_part(part)} for name, part in zip(names, parts, strict=True)]
    for number, part in enumerate(parts):
        context = {
            "sections": part,
            "empty": [section for section in sections if not section.entries] if not number else [],
            "pages": pages if len(pages) > 1 else [],
            "here_page": names[number],
            "find_data": FIND_DATA,
        }
        title = say("Find") if len(parts) == 1 else say("Find, part {n}", n=number + 1)
        yield Sheet(names[number], "find.html.j2", title, period(reading.figures), context, _not_known())


def find_page(number: int) -> str:
    """File name of a part of the register, from 0."""
    return f"find-{number + 1}.html" if number else "find.html"


def _spoken_part(part: Part) -> str:
    first, last = part[0], part[-1]
    ends = [section.title if not groups[place][0] else f"{section.title} {groups[place][0]}"
            for (section, groups), place in ((first, 0), (last, -1))]  # fmt: skip
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} – {ends[1]}"


def split(sections: Sequence[Section], most_bytes: int) -> list[Part]:
    """The sections cut into parts of at most so many bytes of entries, in order; there is one part at least."""
    parts: list[list[tuple[Section, Entry]]] = [[]]
    size = 0
    for section in sections:
        for entry in section.entries:
            weight = weighed(entry)
            if size + weight > most_bytes and parts[-1]:
                parts.append([])
                size = 0
            parts[-1].append((section, entry))
            size += weight
    return [_regrouped(part) for part in parts]


def weighed(entry: Entry) -> int:
    """Bytes of an entry on a page, its elements with it."""
    return len(str(escape(entry.text)).encode()) + len(entry.href or "") + 32


def _regrouped(part: list[tuple[Section, Entry]]) -> Part:
    return [
        (section, [(name, [entry for _, entry in own]) for name, own in groupby(rows, key=lambda row: row[1].group)])
        for section, rows in groupby(part, key=lambda row: row[0])
    ]


def find_data(sections: Sequence[Section]) -> bytes:
    """The script's data: an assignment of plain values, the same for the same sections."""
    entries = [
        [number, entry.text, entry.href or ""] for number, section in enumerate(sections) for entry in section.entries
    ]
    data: Mapping[str, object] = {
        "kinds": [section.one for section in sections],
        "said": {
            "none": say("Nothing is found."),
            "one": say("One entry is found."),
            "many": say("{{n}} entries are found."),
            "most": say("{{n}} entries are found; the first {{shown}} are shown."),
        },
        "entries": entries,
    }
    return f"window.airhoursFind = {json.dumps(data, separators=(',', ':'))};\n".encode()


def _not_known() -> tuple[str, ...]:
    return (
        say("What stands in no register: single lines of files. They are listed where figures are taken apart."),
        say("Names that no file of this site holds."),
    )
