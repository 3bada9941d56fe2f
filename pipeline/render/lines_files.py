"""The page of lists behind the account of every file: which of its lines are repeats, which were set aside and why.

Here lines are named and their texts are not shown: a row that could not be read may name a person anywhere in it.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.render.evidence_door import Evidence
from pipeline.render.index import period, site_not_known
from pipeline.render.lines_blocks import MOST
from pipeline.render.lines_names import FILES, file_place
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet

LISTED = {"repeats": "Repeats", "set_aside": "Set aside"}
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


def files_sheet(reading: Reading, evidence: Evidence) -> Sheet:
    """The sheet, a section a file in the order of figures.json."""
    rows = reading.figures["rows"]
    found = {part: _by_file(evidence, part) if rows[part] <= MOST_ROWS else None for part in LISTED}
    context = {"files": list(_files(reading.figures["files"], found)), "rows": rows}
    title = "Lines behind the account of the files"
    return Sheet(FILES, "lines-files.html.j2", title, period(reading.figures), context, site_not_known(reading))


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
        name=LISTED[part],
        count=file[part],
        is_right=found is None or len(lines) == file[part],
        lines=lines if len(lines) <= MOST else (),
        command=_command(part, file["path"]),
    )


def _command(part: str, path: str) -> str:
    return f"airhours lines SITE {part} --file {shlex.quote(path)} --limit 0"
