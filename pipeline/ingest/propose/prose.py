"""Logs whose lines are sentences: a time, perhaps a machine, and what happened, parted by nothing but blanks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from pipeline.ingest.batch import cell_name
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.propose.contents import Contents, missing, open_words
from pipeline.ingest.propose.patterns import Groups, propose_parts
from pipeline.ingest.propose.sample import Sample
from pipeline.ingest.propose.times import TimeCells
from pipeline.ingest.propose.traits import KINDS, NEARLY_ALL, describe, kind_of
from pipeline.ingest.propose.words import propose_words

MOST_WORDS_OF_TIME = 4
TIMES = {"stamp", "yearless", "midnight", "clock"}
WORD = r"\S+"
WHOLE_LINE = "column 1"


def propose_prose(sample: Sample, file: str) -> Contents | None:
    """The parts of lines that begin with a time; None if most lines do not."""
    lines = [
        (line, " ".join(text.split()))
        for line, text in sample.batch.rows.select("line", cell_name(0)).drop_nulls().iter_rows()
    ]
    texts = [text for _, text in lines]
    words = _words_of_time(texts)
    if not words:
        return None
    rests = [" ".join(text.split()[words:]) for text in texts]
    before = f"(?P<at>{' +'.join([WORD] * words)}) +"
    if _begin_with_machine(rests):
        before += f"(?P<machine>{WORD}?):? +"
        rests = [rest.partition(" ")[2] for rest in rests]
    parts = propose_parts(Counter(filter(None, rests)), Groups(), before)
    if parts is None:
        return None
    table = propose_words("event", parts.events)
    return Contents(
        parts=((WHOLE_LINE, parts),),
        words=(table,),
        missing=tuple(missing(EVENTS, set(parts.names), file)),
        numbers=parts.values,
        times=(_times(lines, words),),
        undecided=tuple(open_words(table, sample.is_whole)),
    )


def _words_of_time(texts: Sequence[str]) -> int:
    """Of how many words the time at the beginning of nearly all lines consists; 0 if they begin with none."""
    for count in range(MOST_WORDS_OF_TIME, 0, -1):
        hits = sum(kind_of(_first(text, count)) in TIMES and len(text.split()) > count for text in texts)
        if texts and hits >= NEARLY_ALL * len(texts):
            return count
    return 0


def _first(text: str, count: int) -> str:
    return " ".join(text.split()[:count])


def _begin_with_machine(rests: Sequence[str]) -> bool:
    firsts = [rest.partition(" ")[0].rstrip(":") for rest in rests]
    return sum(KINDS["code"].fullmatch(first) is not None for first in firsts) >= NEARLY_ALL * len(firsts)


def _times(lines: Sequence[tuple[int, str]], words: int) -> TimeCells:
    cells = tuple((line, _first(text, words)) for line, text in lines)
    return TimeCells("at", describe("at", 0, Counter(text for _, text in cells)), cells)
