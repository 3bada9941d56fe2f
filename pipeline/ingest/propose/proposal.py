"""Proposes the [[feeds]] table of a file from its first rows: each line with its reason, and what is left to decide."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.ingest.batch import Batch
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.propose.candidates import find_candidates
from pipeline.ingest.propose.canonical import is_canonical, is_found_by_name
from pipeline.ingest.propose.columns import Assignment
from pipeline.ingest.propose.contents import Contents, propose_contents
from pipeline.ingest.propose.forms import recognise_form
from pipeline.ingest.propose.kinds import Choice, choose_kind
from pipeline.ingest.propose.look import Look, look_at
from pipeline.ingest.propose.numbers import propose_numbers
from pipeline.ingest.propose.placing import propose_path
from pipeline.ingest.propose.prose import propose_prose
from pipeline.ingest.propose.sample import Sample
from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.times import propose_times, time_cells
from pipeline.ingest.propose.toml_text import list_value, text_value
from pipeline.ingest.propose.trial import try_table
from pipeline.ingest.propose.writing import write_no_table, write_table

OF_PROSE = "its lines begin with a time"
ORDER = ("kind", "path", "format", "sheet", "encoding", "delimiter", "quote", "header_row", "decimal", "thousands")


@dataclass(frozen=True)
class Proposal:
    """``text`` is TOML for site.toml, comments only if no table is needed; ``undecided`` a sentence for each gap."""

    text: str
    undecided: tuple[str, ...] = ()


def propose_table(file: Path, kind: str = "") -> Proposal:
    """The [[feeds]] table that would read ``file``; ``kind`` of feed, or empty to tell by its columns.

    It is made on at most 5,000 rows, and tried on them. Every line gives its reason as a comment; what is not decided
    is in comments, and in ``undecided``.

    Raises:
        FeedError: the file cannot be read, holds no row, or is like no feed; or ``kind`` is none.
    """
    name, placed = propose_path(file)
    form = recognise_form(file, name)
    found = FoundFile(file, name, EVENTS, form.format, form.packing, form.member)
    look = look_at(found, form, kind)
    candidates = find_candidates(look.sample.columns)
    prose = propose_prose(look.sample, name) if look.is_prose and kind in {"", EVENTS.name} else None
    choice = Choice(Assignment(EVENTS, (), ()), OF_PROSE) if prose else choose_kind(name, form.format, candidates, kind)
    if is_canonical(found, look, choice.feed):
        return Proposal(write_no_table(name, choice.feed, is_found=is_found_by_name(name, choice.feed)))
    contents = prose or propose_contents(choice.assignment, look.sample, name)
    findings = _findings(placed, look, choice, contents, name)
    text = write_table(name, look.sample, contents, findings)
    findings += Findings(remarks=(try_table(text, choice.feed, look.sample.batch, name),))
    undecided = tuple(" ".join(sentence.split()) for sentence in findings.undecided)  # a cell they quote may hold lines
    return Proposal(write_table(name, look.sample, contents, findings), undecided)


def _findings(placed: Findings, look: Look, choice: Choice, contents: Contents, name: str) -> Findings:
    batch = look.sample.batch
    times = [
        time_cells(match.ours.name, match.candidate.traits, batch, match.candidate.places)
        for match in choice.assignment.matches
        if match.ours.kind == "time"
    ]
    doubt = (choice.doubt,) if choice.doubt else ()
    kind = Findings((Setting("kind", text_value(choice.feed.name), choice.why),), undecided=doubt)
    found = kind + placed + look.findings + propose_numbers(contents.numbers)
    found += Findings(tuple(_empty(look.sample)), tuple(_said_by_reader(batch)))
    found += propose_times(name, [*times, *contents.times], look.day_system)
    settings = sorted(found.settings, key=lambda each: ORDER.index(each.key) if each.key in ORDER else len(ORDER))
    return Findings(tuple(settings), found.remarks, found.undecided + choice.assignment.undecided + contents.undecided)


def _empty(sample: Sample) -> Iterator[Setting]:
    if sample.empty:
        count = sum(cells for _, cells in sample.empty)
        cells = list_value(text_value(cell) for cell, _ in sample.empty)
        yield Setting("empty", cells, f"{count:,} cells say so that nothing is recorded")


def _said_by_reader(batch: Batch) -> Iterator[str]:
    """What the reader decided or noticed, a sentence of each kind."""
    for _, kind, what in batch.findings.unique("kind", keep="first", maintain_order=True).iter_rows():
        yield f"Found while reading ({kind.replace('_', ' ')}): {what}"
