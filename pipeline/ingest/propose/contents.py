"""What the cells of the columns that were found mean: their words, the parts of their texts, what no column holds."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from pipeline.ingest.batch import cell_name
from pipeline.ingest.feeds import Feed
from pipeline.ingest.propose.columns import Assignment, Match
from pipeline.ingest.propose.fits import IDS
from pipeline.ingest.propose.patterns import Groups, Parts, propose_parts
from pipeline.ingest.propose.phrasebook import SOURCES
from pipeline.ingest.propose.phrases import DETAILED, PARTNERED, VALUED, cut
from pipeline.ingest.propose.sample import Sample
from pipeline.ingest.propose.times import TimeCells
from pipeline.ingest.propose.toml_text import shown
from pipeline.ingest.propose.traits import kind_of
from pipeline.ingest.propose.words import WordTable, propose_words

MOST_SOURCES = 20
IN_TEXT = "_in_text"  # ends the name of a part beside a column of the same meaning
LONGEST_HEADER = 200  # characters; a longer one is no name
NUMBERED = re.compile(r"[^\W\d_]{1,6}[ _-]?[0-9]{1,3}(?![0-9])")


@dataclass(frozen=True)
class ColumnLine:
    """Their header, ours that it makes, and why."""

    theirs: str
    ours: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class Contents:
    """What a table says below its keys. ``parts``: their column and its patterns; ``missing``: ours with an example."""

    columns: tuple[ColumnLine, ...] = ()
    parts: tuple[tuple[str, Parts], ...] = ()
    words: tuple[WordTable, ...] = ()
    missing: tuple[tuple[str, str], ...] = ()
    numbers: tuple[str, ...] = ()
    times: tuple[TimeCells, ...] = ()
    undecided: tuple[str, ...] = ()


def propose_contents(assignment: Assignment, sample: Sample, file: str) -> Contents:
    """The lines of columns, parts, words and constants for the columns of ``assignment``."""
    matches = [
        match for match in assignment.matches if all(len(each) <= LONGEST_HEADER for each in match.candidate.headers)
    ]
    parts = tuple(_parts(assignment, sample, matches))
    cut_up = {theirs for theirs, _ in parts}
    words = tuple(_words(matches, dict(parts)))
    numbers = [text for match in matches if match.ours.kind == "number" for text in match.candidate.traits.counts]
    found = {match.ours.name for match in matches} | {name for _, each in parts for name in each.names}
    return Contents(
        columns=(*_column_lines(matches, cut_up), *_part_columns(parts)),
        parts=parts,
        words=words,
        missing=tuple(missing(assignment.feed, found, file)),
        numbers=(*numbers, *(text for _, each in parts for text in each.values)),
        undecided=tuple(sentence for table in words for sentence in open_words(table, sample.is_whole)),
    )


def missing(feed: Feed, found: set[str], file: str) -> Iterator[tuple[str, str]]:
    """Our columns that rows cannot do without and no column holds, each with a value it might always have."""
    for column in feed.columns:
        is_needed = (column.is_filled or column.is_required) and column.kind != "time" and column.name not in IDS
        if is_needed and column.name not in found:
            numbered = NUMBERED.search(file.rpartition("/")[2]) if column.name == "machine" else None
            yield column.name, numbered[0] if numbered else column.words[0] if column.words else ""


def open_words(table: WordTable, is_whole: bool) -> Iterator[str]:
    """A sentence on the words whose meaning is not known, if any."""
    begun = [(f"{beginning} …", rows) for beginning, rows in table.begins]
    unknown = sorted([*((line.theirs, line.row_count) for line in table.unknown), *begun], key=lambda pair: -pair[1])
    if unknown:
        first = ", ".join(shown(word, 30) for word, _ in unknown[:3])
        count = sum(rows for _, rows in unknown)
        held = f"in {count:,} {'row' if count == 1 else 'rows'}"
        told = "1 word is" if len(unknown) == 1 else f"{len(unknown)} words are"
        yield f"words.{table.column}: {told} not known, {held}, such as {first}."
    if table.left_out_count:
        yield f"words.{table.column}: {table.left_out_count:,} more are not listed, being rare."
    if not is_whole and table.lines:
        yield f"words.{table.column}: only the first rows were looked at; others may come with further words."


def _column_lines(matches: Iterable[Match], cut_up: set[str]) -> Iterator[ColumnLine]:
    """A line a header of theirs, in the order in which dates come before their times of day."""
    lines: dict[str, ColumnLine] = {}
    for match in matches:
        for place, theirs in enumerate(match.candidate.headers):
            if theirs in cut_up and match.ours.name == "event":
                continue
            before = lines.get(theirs)
            ours = (*(before.ours if before else ()), match.ours.name)
            is_date = place < len(match.candidate.headers) - 1
            why = before.why if before else "the date of the times below" if is_date else match.why
            lines[theirs] = ColumnLine(theirs, ours, why)
    days = {each for match in matches for each in match.candidate.headers[:-1]}
    yield from sorted(lines.values(), key=lambda line: line.theirs not in days)


def _part_columns(parts: Iterable[tuple[str, Parts]]) -> Iterator[ColumnLine]:
    for _, each in parts:
        for name in sorted(each.names):
            if name.endswith(IN_TEXT):
                yield ColumnLine(name, (name.removesuffix(IN_TEXT),), "cut out of the texts below; no row has both")


def _parts(assignment: Assignment, sample: Sample, matches: Iterable[Match]) -> Iterator[tuple[str, Parts]]:
    event = next((match for match in matches if match.ours.name == "event"), None)
    if event is None:
        return
    groups = Groups(
        _group(sample, event, assignment.match("value"), "value", (VALUED, PARTNERED)),
        _group(sample, event, assignment.match("detail"), "detail", (DETAILED, PARTNERED)),
    )
    parts = propose_parts(event.candidate.traits.counts, groups)
    if parts:
        yield event.candidate.headers[0], parts


def _group(sample: Sample, event: Match, other: Match | None, name: str, shapes: Sequence[str]) -> str:
    """What the part ``name`` of the event's texts is called: not as ours where another column holds it in other rows.

    Empty if a row has both, which would be joined into one.
    """
    if other is None:
        return name
    texts, cells = (sample.batch.rows[cell_name(match.candidate.places[-1])].to_list() for match in (event, other))
    has_both = any(cell and text and cut(text).shape in shapes for text, cell in zip(texts, cells, strict=True))
    return "" if has_both else f"{name}{IN_TEXT}"


def _words(matches: Iterable[Match], parts: dict[str, Parts]) -> Iterator[WordTable]:
    for match in matches:
        if match.ours.name in SOURCES:
            yield from _sources(match)
        elif match.ours.kind == "word":
            texts = parts.get(match.candidate.headers[0]) if match.ours.name == "event" else None
            yield propose_words(match.ours.name, texts.events if texts else match.candidate.traits.counts)


def _sources(match: Match) -> Iterator[WordTable]:
    """What a take names that is no machine number, if it is little: a machine with a name, or no machine."""
    named = {word: rows for word, rows in match.candidate.traits.counts.items() if kind_of(word) != "code"}
    if 0 < len(named) <= MOST_SOURCES:
        yield propose_words(match.ours.name, named)
