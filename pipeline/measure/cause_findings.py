"""Finds in one cell of a ticket what speaks for a cause, and drops what is denied, healthy or did not help.

An action is a story: "cleaned, no better, swapped demod, ok" names two causes and means one. Its clauses are therefore
read in order, and what comes later may undo or strengthen what came before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from pipeline.measure.cause_lexicon import Found, Lexicon
from pipeline.measure.cause_patterns import Places
from pipeline.measure.cause_text import Word

UNKNOWN = "unknown"
FOLLOWED_STRENGTH = 4.0  # what the fault followed is as certain as a name can make it
BARE_FAILURES = (["same"], ["no"], ["negative"])  # a clause of one word
DENIAL_REACH = 4  # words behind a finding in which "ruled out" is said of it


@dataclass(frozen=True)
class Finding:
    """A term of the word list found in a clause of a cell; `words` as written."""

    cause: tuple[str, str]
    strength: float
    cell: str
    clause: int
    words: tuple[str, ...]
    proved: bool = False


@dataclass
class CellReading:
    """What counts in a cell, causes whose remedy failed there, and how its story ended.

    `swapped`: the last remedy told of was a swap. `gave_up`: the cell says that the cause is not known.
    """

    name: str
    findings: list[Finding] = field(default_factory=list)
    tried: set[tuple[str, str]] = field(default_factory=set)
    failed: bool = False
    swapped: bool = False
    gave_up: bool = False
    remedied: bool = False  # the last clause told of a remedy
    marks: set[str] = field(default_factory=set)  # kinds of turns of phrase met in it


def read_cell(name: str, text: str | None, lexicon: Lexicon) -> CellReading:
    """What a cell says, clause by clause; nothing for an empty one."""
    cell = CellReading(name)
    for number, (words, found, failed) in enumerate(_segments(text, lexicon)):
        own = _find((name, number), words, found, lexicon)
        cell.marks |= set(found.marks)
        if failed:
            _undo(cell, own)
        elif found.has("followed"):
            _follow(cell, own, number, at=found.end_of("followed"), found=found)
        else:
            _read_clause(cell, own, number, found=found, words=words, lexicon=lexicon)
    return cell


def _segments(text: str | None, lexicon: Lexicon) -> Iterator[tuple[list[Word], Found, bool]]:
    """Clauses with what was found in them and whether they tell of a remedy that failed; cut where the failure ends."""
    for words in lexicon.clauses(text):
        found = lexicon.look(words)
        end = len(words) if [word.plain for word in words] in BARE_FAILURES else found.end_of("failed")
        end = len(words) if found.has("not_followed") else end
        if not end or (found.has("followed") and end < len(words)):
            yield words, found, False
            continue
        yield words[:end], found if end == len(words) else lexicon.look(words[:end]), True
        if words[end:]:
            yield words[end:], lexicon.look(words[end:]), False


def _undo(cell: CellReading, own: list[tuple[Finding, Places]]) -> None:
    """A remedy failed: of an action all that went before is undone, of a statement what it names and its like."""
    named = [finding for finding, _ in own]
    tops = {finding.cause[0] for finding in named}
    undone = [f for f in cell.findings if cell.name == "action" or not tops or f.cause[0] in tops]
    cell.tried |= {finding.cause for finding in undone + named}
    cell.failed, cell.swapped, cell.remedied = True, False, False
    cell.findings = [f for f in cell.findings if f not in undone or f.cause[0] == UNKNOWN]


def _follow(cell: CellReading, own: list[tuple[Finding, Places]], number: int, *, at: int, found: Found) -> None:
    """What the fault followed: named behind the phrase, before it ("with it") or in the last clause."""
    behind = [finding for finding, places in own if min(places) >= at]
    kept = cell.findings + (behind or [finding for finding, _ in own])
    last = number if own else max((finding.clause for finding in kept), default=-1)
    cell.findings = [
        replace(finding, strength=max(finding.strength + 1.0, FOLLOWED_STRENGTH), proved=True)
        if finding.clause == last
        else finding
        for finding in kept
    ]
    cell.swapped = found.has("swap")


def _read_clause(
    cell: CellReading,
    own: list[tuple[Finding, Places]],
    number: int,
    *,
    found: Found,
    words: Sequence[Word],
    lexicon: Lexicon,
) -> None:
    given_up = max((max(places) for finding, places in own if _gives_up(finding)), default=-1)
    if given_up >= 0 or _leaves_open(cell.findings, own, found):
        cell.findings, cell.gave_up, cell.swapped = [], True, False
        own = [(f, places) for f, places in own if f.cause[0] == UNKNOWN or (0 <= given_up < min(places))]
    elif not own and _is_verdict(found, words, lexicon) and not cell.remedied:
        cell.findings = [finding for finding in cell.findings if finding.clause != number - 1]
    cell.swapped = (cell.swapped and not own) or found.has("swap")
    cell.remedied = found.has("remedy") or (cell.remedied and not own)
    cell.findings += [finding for finding, _ in own]
    if found.has("worked"):
        _strengthen_last(cell, lexicon.reading["success_bonus"])


def _gives_up(finding: Finding) -> bool:
    return finding.cause[0] == UNKNOWN and finding.strength >= 3.0


def _leaves_open(kept: list[Finding], own: list[tuple[Finding, Places]], found: Found) -> bool:
    """Whether two remedies were applied together, so that what cured the fault is not told."""
    here = {finding.cause[0] for finding, _ in own}
    if found.has("at_once") and found.has("remedy"):
        return len(here | {finding.cause[0] for finding in kept}) > 1
    remedies = found.marks.get("remedy", ())
    first, last = min(map(min, remedies), default=0), max(map(min, remedies), default=0)
    return len(here) > 1 and any(first < min(joint) < last for joint in found.marks.get("joins", ()))


def _is_verdict(found: Found, words: Sequence[Word], lexicon: Lexicon) -> bool:
    """Whether a clause names nothing and says that what stands before it is well, or was only a first thought."""
    if found.has("remedy") or words[0].plain not in lexicon.goes_on:
        return False
    return found.has("healthy") or found.has("first_thought") or found.has("doubt")


def _strengthen_last(cell: CellReading, bonus: float) -> None:
    last = max((finding.clause for finding in cell.findings), default=-1)
    cell.findings = [
        replace(finding, strength=finding.strength + bonus, proved=finding.proved or cell.swapped)
        if finding.clause == last
        else finding
        for finding in cell.findings
    ]


def _find(
    where: tuple[str, int], words: Sequence[Word], found: Found, lexicon: Lexicon
) -> list[tuple[Finding, Places]]:
    """Terms in a clause of a cell without those denied, doubted or well; what the clause blames counts for more."""
    seen: set[tuple[tuple[str, str], tuple[str, ...]]] = set()
    kept = []
    blames = max((max(places) for places in found.marks.get("blames", ())), default=len(words))
    for term, places in found.terms:
        written = tuple(dict.fromkeys(words[k].written for k in sorted(places)))
        key = ((term.top, term.second), written)
        told = where[0] != "symptom" or term.top not in lexicon.told_only or term.strength >= FOLLOWED_STRENGTH
        if told and key not in seen and (term.top == UNKNOWN or not _set_aside(words, places, found, lexicon)):
            seen.add(key)
            bonus = lexicon.reading["blame_bonus"] if min(places) > blames else 0.0
            kept.append((Finding(key[0], term.strength + bonus, *where, written), places))
    return kept


def _set_aside(words: Sequence[Word], places: Places, found: Found, lexicon: Lexicon) -> bool:
    """Whether what stands there is said to be well, is only a first thought or is denied."""
    marks = found.marks
    healthy = marks.get("healthy", ()) if "remedy" not in marks else ()
    if healthy and not any(places & each for each in healthy):  # "servo checked ok" is said of the servo
        return True
    if any(_is_near(each, places, words) for kind in ("first_thought", "doubt") for each in marks.get(kind, ())):
        return True
    if any(
        max(places) < min(each) and max(each) - max(places) <= DENIAL_REACH for each in marks.get("denied_after", ())
    ):
        return True
    return any(
        max(denial) < min(places) and all(words[k].plain in lexicon.filler for k in range(max(denial) + 1, min(places)))
        for denial in marks.get("denies", ())
    )


def _is_near(mark: Places, places: Places, words: Sequence[Word]) -> bool:
    """Whether a doubt stands before the words with few between, or right behind them."""
    before, behind = min(places) - max(mark), min(mark) - max(places)
    return 0 < before <= DENIAL_REACH or 0 < behind <= 2 or bool(mark & places) or len(words) == len(mark)
