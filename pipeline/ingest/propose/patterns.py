"""Patterns that cut the texts of a log into event, value and detail, as a [[feeds]] table has them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from pipeline.ingest.propose.phrasebook import fold, phrasebook
from pipeline.ingest.propose.phrases import (
    BETWEEN,
    CODE,
    DETAILED,
    MOST_TEXTS,
    NUMBER,
    PARTNERED,
    UNITS,
    VALUED,
    WHOLE,
    Cut,
    cut,
    known_phrase,
)

MOST_PHRASES = 40  # alternatives of one pattern


@dataclass(frozen=True)
class Groups:
    """What the groups of a value and a detail are called; empty where none is wanted."""

    value: str = "value"
    detail: str = "detail"


@dataclass(frozen=True)
class Parts:
    """Patterns for one column of texts, each with its reason, and what they cut out: rows by event, and values."""

    patterns: tuple[tuple[str, str], ...]
    events: Counter[str]
    values: tuple[str, ...]

    @property
    def names(self) -> frozenset[str]:
        """The groups that the patterns name."""
        return frozenset(name for pattern, _ in self.patterns for name in re.compile(pattern).groupindex)


def propose_parts(counts: Mapping[str, int], groups: Groups, before: str = "") -> Parts | None:
    """Patterns that cut the texts of ``counts`` (rows by text); None if no text is more than its phrase.

    ``before`` is a pattern for what stands before the phrase.
    """
    shapes: dict[str, Counter[str]] = {}
    for text, found in _cuts([text for text, _ in Counter(counts).most_common(MOST_TEXTS)]).items():
        shapes.setdefault(found.shape, Counter())[found.phrase] += counts[text]
    if not before and not any(shapes.get(shape) for shape in (VALUED, PARTNERED, DETAILED)):
        return None
    tails = tuple(_tails(shapes, groups))
    patterns = tuple((f"^{before}{tail}$", why) for tail, why in tails)
    return Parts(patterns, *_cut_out(counts, [tail for tail, _ in tails], groups.value))


def _cuts(texts: Iterable[str]) -> dict[str, Cut]:
    """How each text is cut. A word behind a phrase that may turn it round becomes a part of the phrase.

    A log that has ``ALARM hum`` and ``ALARM over hum`` tells with the second the alarm's end, in whatever language.
    """
    cuts = {text: cut(text) for text in texts}
    rests: dict[str, set[str]] = {}
    for found in cuts.values():
        if found.shape in {DETAILED, WHOLE}:
            rests.setdefault(fold(found.phrase), set()).add(fold(found.rest))
    return {
        text: _with_turning_word(text, found, rests[fold(found.phrase)]) if found.shape == DETAILED else found
        for text, found in cuts.items()
    }


def _with_turning_word(text: str, found: Cut, rests: set[str]) -> Cut:
    words = fold(found.rest).split()
    turned_by = phrasebook().turned_by
    if not words or words[0] in turned_by or " ".join(words[1:]) in rests:
        first = re.match(r"[ :=]*[^\s:=]+", text[len(found.phrase) :])
        end = len(found.phrase) + (first.end() if first else 0)
        rest = text[end:].strip(" :=")
        return Cut(DETAILED if rest else WHOLE, text[:end], rest)
    if words[-1] in turned_by or " ".join(words[:-1]) in rests:
        return Cut(WHOLE, text)
    return found


def _tails(shapes: Mapping[str, Counter[str]], groups: Groups) -> Iterator[tuple[str, str]]:
    """What follows the beginning of a line, and of how many rows."""
    value = f"(?P<{groups.value}>{NUMBER})" if groups.value else NUMBER
    partner, rest = ((f"(?P<{groups.detail}>{each})" if groups.detail else each) for each in (CODE, ".+"))
    tails = {
        VALUED: f"{BETWEEN}{value}{_unit(shapes, VALUED)}",
        PARTNERED: f"{BETWEEN}{partner}{BETWEEN}{value}{_unit(shapes, PARTNERED)}",
        DETAILED: f"{BETWEEN}{rest}",
    }
    detailed = shapes.get(DETAILED, Counter())
    before = Counter(
        {each: count for each, count in shapes.get(WHOLE, Counter()).items() if _begins_with(each, detailed)}
    )
    if len(before) > MOST_PHRASES or len(detailed) > MOST_PHRASES:
        del tails[DETAILED]
    elif before:  # the pattern of details would take them for details
        yield f"(?P<event>{_either(before)})", _rows(before)
    for shape, tail in tails.items():
        if phrases := shapes.get(shape):
            yield f"(?P<event>{_either(phrases)}){tail}", _rows(phrases)
    yield "(?P<event>.+)", "all others, as they stand"


def _begins_with(text: str, phrases: Iterable[str]) -> bool:
    return any(text.startswith(phrase) and text != phrase for phrase in phrases)


def _rows(phrases: Counter[str]) -> str:
    count = sum(phrases.values())
    return f"{count:,} {'row' if count == 1 else 'rows'}"


def _unit(shapes: Mapping[str, Counter[str]], shape: str) -> str:
    """A unit that may follow the values of the events of ``shape``."""
    events = {known_phrase(phrase) for phrase in shapes.get(shape, ())}
    units = dict.fromkeys(UNITS[event] for event in UNITS if event in events)
    return f"(?: ?(?:{'|'.join(units)}))?"


def _either(phrases: Counter[str]) -> str:
    chosen = sorted((phrase for phrase, _ in phrases.most_common(MOST_PHRASES)), key=lambda each: (-len(each), each))
    return "|".join(map(re.escape, chosen)).replace("\\ ", " ")


def _cut_out(counts: Mapping[str, int], tails: Iterable[str], value_name: str) -> tuple[Counter[str], tuple[str, ...]]:
    """Rows by event, and the distinct values."""
    events: Counter[str] = Counter()
    values: dict[str, None] = {}
    compiled = [re.compile(tail) for tail in tails]
    for text, count in counts.items():
        match = next((found for pattern in compiled if (found := pattern.fullmatch(text))), None)
        if match:
            events[match["event"].strip()] += count
            value = match.groupdict().get(value_name)
            values |= {value: None} if value else {}
    return events, tuple(values)
