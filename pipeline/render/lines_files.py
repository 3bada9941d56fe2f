"""The page of lists behind the account of every file: which of its lines are repeats, which were set aside and why.

Here lines are named and their texts are not shown: a row that could not be read may name a person anywhere in it.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pipeline.render.evidence_door import Evidence
from pipeline.render.index import period, site_not_known
from pipeline.render.language import say
from pipeline.render.lines_blocks import MOST
from pipeline.render.lines_names import FILES, FigureLinks, file_place
from pipeline.render.page_weight import cells_bytes, fair_shares, text_bytes
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet

LISTED = ("repeats", "set_aside")
# Bytes of a page: the accounts without lists, of each the marks and commands, and the lists.
ACCOUNT_BYTES, FILE_BYTES, LIST_BYTES = 200_000, 1_100, 220_000
MOST_ROWS = 20_000  # of a whole site; beyond it lists are left to the command
Found = Mapping[str, tuple[tuple[int, str], ...]]


@dataclass(frozen=True)
class Part:
    """Repeats or rows set aside of a file: how many, the lines (line, what) where they are few, and the command."""

    id: str
    name: str
    count: int
    is_right: bool
    lines: tuple[tuple[int, str], ...]
    command: str


def file_pages(files: Sequence[Mapping[str, Any]]) -> dict[int, str]:
    """On which page the account of each file stands, by its number from 1: a new page where one is full."""
    pages, page, left = {}, 1, ACCOUNT_BYTES
    for number, file in enumerate(files, start=1):
        weight = FILE_BYTES + 6 * text_bytes(file["path"])
        if weight > left and left < ACCOUNT_BYTES:
            page, left = page + 1, ACCOUNT_BYTES
        left -= weight
        pages[number] = FILES if page == 1 else FILES.replace(".html", f"-{page}.html")
    return pages


def files_sheets(reading: Reading, evidence: Evidence, links: FigureLinks) -> Iterator[Sheet]:
    """The sheets, a section a file in the order of figures.json."""
    rows, files = reading.figures["rows"], reading.figures["files"]
    found = {part: _by_file(evidence, part) if rows[part] <= MOST_ROWS else None for part in LISTED}
    told = list(zip(links.files.values(), _files(files, found), strict=True))
    names = list(dict.fromkeys(links.files.values())) or [FILES]
    title, facts = say("Lines behind the account of the files"), site_not_known(reading)
    for name in names:
        own = _lightened([file for page, file in told if page == name])
        others = [{"href": other, "name": str(number)} for number, other in enumerate(names, 1) if len(names) > 1]
        context = {"files": own, "rows": rows, "others": others, "this_page": name}
        yield Sheet(name, "lines-files.html.j2", title, period(reading.figures), context, facts)


def _lightened(files: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The files of a page; lists that it cannot carry are left to the command."""
    weights = [sum(map(_part_bytes, file["parts"])) for file in files]
    shares = fair_shares(weights, LIST_BYTES)
    return [
        file if share == weight else {**file, "parts": [replace(part, lines=()) for part in file["parts"]]}
        for file, weight, share in zip(files, weights, shares, strict=True)
    ]


def _part_bytes(part: Part) -> int:
    return sum(cells_bytes(line, what) for line, what in part.lines) + 300


def part_name(part: str) -> str:
    """Repeats, or rows set aside."""
    return {"repeats": say("Repeats"), "set_aside": say("Set aside")}[part]


def _by_file(evidence: Evidence, part: str) -> Found:
    """Line and what of all repeats, or of all rows set aside, by file: asked once for all files."""
    found: dict[str, list[tuple[int, str]]] = {}
    items = evidence.lines(f"rows.{part}", evidence.scopes()[0]).items
    for file, line, what in items.select("file", "line", "what").iter_rows():
        found.setdefault(file, []).append((line, what))
    return {file: tuple(lines) for file, lines in found.items()}


def _files(files: list[Mapping[str, Any]], found: Mapping[str, Found | None]) -> Iterator[dict[str, Any]]:
    for number, file in enumerate(files, start=1):
        parts = [_part(number, file, part, found[part]) for part in LISTED]
        yield {**file, "place": file_place(number), "parts": parts, "command": _command("kept", file["path"])}


def _part(number: int, file: Mapping[str, Any], part: str, found: Found | None) -> Part:
    lines = found.get(file["path"], ()) if found is not None else ()
    return Part(
        id=file_place(number, part),
        name=part_name(part),
        count=file[part],
        is_right=found is None or len(lines) == file[part],
        lines=lines if len(lines) <= MOST else (),
        command=_command(part, file["path"]),
    )


def _command(part: str, path: str) -> str:
    return f"airhours lines SITE {part} --file {shlex.quote(path)} --limit 0"
