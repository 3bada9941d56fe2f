"""Finds in one cell of a ticket what speaks for a cause, and drops what is denied, healthy or did not help.

An action is a story: "cleaned, no better, swapped demod, ok" names two causes and means one. Its clauses are therefore
read in order, and what comes later may undo or strengthen what came before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from pipeline.measure.cause_lexicon import Lexicon
from pipeline.measure.cause_text import Word

UNKNOWN = "unknown"
FOLLOWED_STRENGTH = 4.0  # what the fault followed is as certain as a name can make it
BARE_FAILURES = (["same"], ["no"], ["negative"])  # a clause of one word


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
    """What counts in a cell, causes whose remedy failed there, and whether the last remedy told of was a swap."""

    findings: list[Finding] = field(default_factory=list)
    tried: set[tuple[str, str]] = field(default_factory=set)
    failed: bool = False
    swapped: bool = False


def read_cell(name: str, text: str | None, lexicon: Lexicon) -> CellReading:
    """What a cell says, clause by clause; nothing for an empty one."""
    cell = CellReading()
    for number, words in enumerate(lexicon.clauses(text)):
        followed, did_not_help = _end_of("followed", words, lexicon), _end_of_failure(words, lexicon)
        if followed and did_not_help != len(words):
            cell.findings = _with_followed(cell.findings, name, number, words, at=followed, lexicon=lexicon)
        else:
            _read_clause(cell, name, number, words, did_not_help=did_not_help, lexicon=lexicon)
    return cell


def _read_clause(
    cell: CellReading, name: str, number: int, words: list[Word], *, did_not_help: int, lexicon: Lexicon
) -> None:
    if did_not_help:
        undone = cell.findings + _find(name, number, words[:did_not_help], lexicon)
        cell.tried |= {finding.cause for finding in undone}
        cell.failed, cell.swapped = True, False
        cell.findings = [finding for finding in cell.findings if finding.cause[0] == UNKNOWN]
    found = _find(name, number, words[did_not_help:], lexicon)
    cell.swapped = (cell.swapped and not found) or lexicon.marked("swap", words) is not None
    cell.findings += found
    if lexicon.marked("worked", words) is not None:
        last = max((finding.clause for finding in cell.findings), default=-1)
        bonus = lexicon.reading["success_bonus"]
        cell.findings = [
            replace(finding, strength=finding.strength + bonus, proved=finding.proved or cell.swapped)
            if finding.clause == last
            else finding
            for finding in cell.findings
        ]


def _with_followed(
    kept: list[Finding], name: str, number: int, words: list[Word], *, at: int, lexicon: Lexicon
) -> list[Finding]:
    """Findings with what the fault followed: named behind the phrase, before it ("with it") or in the last clause."""
    found = _find(name, number, words[at:], lexicon) or _find(name, number, words[:at], lexicon)
    last = number if found else max((finding.clause for finding in kept), default=-1)
    return [
        replace(finding, strength=max(finding.strength + 1.0, FOLLOWED_STRENGTH), proved=True)
        if finding.clause == last
        else finding
        for finding in kept + found
    ]


def _find(name: str, number: int, words: Sequence[Word], lexicon: Lexicon) -> list[Finding]:
    """Terms in a clause, without those denied and, where the clause says that something is well, without that."""
    healthy = None if lexicon.marked("remedy", words) else lexicon.marked("healthy", words)
    denials = [places for _, places in lexicon.marks["denies"].found(words)]
    found = []
    for term, places in lexicon.found_terms(words):
        well = healthy is not None and not places & healthy  # "servo checked ok" is said of the servo
        if not well and not _denied(words, places, denials, lexicon):
            written = tuple(dict.fromkeys(words[k].written for k in sorted(places)))
            found.append(Finding((term.top, term.second), term.strength, name, number, written))
    return found


def _denied(words: Sequence[Word], places: frozenset[int], denials: list[frozenset[int]], lexicon: Lexicon) -> bool:
    """Whether a denial stands right before the words, or right behind them; one inside belongs to the finding."""
    for denial in denials:
        between = range(max(denial) + 1, min(places))
        if max(denial) < min(places) and all(words[k].plain in lexicon.filler for k in between):
            return True
    return lexicon.marked("denied_after", words[max(places) + 1 :][:4]) is not None


def _end_of(kind: str, words: Sequence[Word], lexicon: Lexicon) -> int:
    """Number of words up to and with a turn of phrase; 0 if the clause has none."""
    return max(lexicon.marked(kind, words) or {-1}) + 1


def _end_of_failure(words: Sequence[Word], lexicon: Lexicon) -> int:
    """Number of words of the clause that tell of a remedy that failed; 0 if none do."""
    if lexicon.marked("not_followed", words) is not None or [word.plain for word in words] in BARE_FAILURES:
        return len(words)
    return _end_of("failed", words, lexicon)
