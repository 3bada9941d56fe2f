"""Reads a ticket's cause, on two levels and with the grade of the evidence, from what the engineers wrote.

A cell that names a cause is taken at its word. Else words decide, and are returned so that a reader can judge the
guess. Where the words do not reach, the answer is unknown: an operator's fault is never read out of silence.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.measure.cause_findings import UNKNOWN, CellReading, Finding, read_cell
from pipeline.measure.cause_lexicon import Lexicon, load_lexicon
from pipeline.measure.cause_text import letters_only

STATED, PROVED, GUESSED, NO_EVIDENCE = "stated", "proved by swap", "guessed from words", "none"
LOOKED, NOTHING_FOUND = "looked and not found", "looked and nothing found"
PROOF_OF_HEALTH = 4.0  # strength of words that say that all was well, not only that no fault was found


@dataclass(frozen=True)
class Cause:
    """A cause of the taxonomy; `second` is empty where only the first level is told.

    `grade` is "stated", "proved by swap", "guessed from words" or "none"; `words` are those that decided, as written.
    """

    top: str
    second: str
    grade: str
    words: tuple[str, ...]


def read_cause(cause: str | None, symptom: str | None, action: str | None, part: str | None) -> Cause:
    """The cause of one ticket from its four cells, each of which may be empty.

    A cause cell that names a cause of either level is "stated". Else closing note (a cause cell in other words) beats
    action and part, which beat the symptom. What is denied ("not the heads"), healthy ("servo ok") or did not help
    ("cleaned, no better") does not count, nor what is only a thought ("perhaps the servo"). Unknown is the answer also
    where the note says so ("reason not found"), where two unlike remedies were applied at once, and where two causes
    have nearly the same weight. Never raises on text.
    """
    lexicon = load_lexicon()
    stated = _stated(cause)
    if stated is not None and stated.top != UNKNOWN:
        return stated
    cells = {"cause": None if stated else cause, "action": action, "part": part, "symptom": symptom}
    if not any((cell or "").strip() for cell in cells.values()):
        return stated or Cause(UNKNOWN, "record missing", NO_EVIDENCE, ())
    read = {name: read_cell(name, cell, lexicon) for name, cell in cells.items()}
    findings = _that_count(read)
    guess = _decide(findings, lexicon)
    if guess and guess.second == NOTHING_FOUND and _is_loss(read["symptom"], findings):
        return Cause(UNKNOWN, LOOKED, NO_EVIDENCE, guess.words)
    return guess or (stated if stated and stated.second else None) or _unknown(findings, read["action"].failed)


def named_cause(text: str | None) -> tuple[str, str] | None:
    """First and second level of the cause that ``text`` names as "first" or "first: second"; None if it names none.

    A second level alone names its cause as well, as in a ticket's cause cell.
    """
    return load_lexicon().names.get(letters_only(text or ""))


def _that_count(read: dict[str, CellReading]) -> list[Finding]:
    """Findings of all cells; what one says of the cause settles what the cells below it made one think of.

    A remedy that failed settles the symptom. A closing note or an action that says that the cause is not known, and
    names none, settles all below it but what a swap proved.
    """
    tried = read["action"].tried | read["cause"].tried
    settled = False
    kept: list[Finding] = []
    for name, cell in read.items():
        own = [f for f in cell.findings if (name != "symptom" or f.cause not in tried) and (not settled or f.proved)]
        kept += own
        settled = settled or (cell.gave_up and not any(f.cause[0] != UNKNOWN for f in own))
    return kept


def _stated(cause: str | None) -> Cause | None:
    """The cause that the cell names by its own name, at either level or as "first: second"."""
    named = named_cause(cause)
    return Cause(*named, STATED, ((cause or "").strip(),)) if named else None


def _is_loss(symptom: CellReading, findings: list[Finding]) -> bool:
    """Whether a loss that nobody disputes was searched for in vain: that is no proof that nothing was wrong."""
    proved = any(f.cause[1] == NOTHING_FOUND and f.strength >= PROOF_OF_HEALTH for f in findings)
    return "loss" in symptom.marks and "complaint" not in symptom.marks and not proved


def _decide(findings: list[Finding], lexicon: Lexicon) -> Cause | None:
    """The first level with the highest score and in it the best told second level; None if it is low or hardly higher.

    Words that only hint ("tape", "card") never decide alone.
    """
    scores = {cause: _score([f for f in findings if f.cause == cause], lexicon) for cause in _causes_of(findings)}
    totals = {top: _with_others([scores[key] for key in scores if key[0] == top], lexicon) for top, _ in scores}
    told = {f.cause[0] for f in findings if f.strength >= lexicon.reading["least_strength"]}
    totals = {top: total for top, total in totals.items() if top in told}
    best = max(sorted(totals), key=lambda top: totals[top], default="")
    next_best = max((total for top, total in totals.items() if top != best), default=0.0)
    clear_lead = lexicon.reading["clear_lead"]
    if not best or totals[best] < lexicon.reading["least_score"] or next_best > clear_lead * totals[best]:
        return None
    seconds = {second: score for (top, second), score in scores.items() if top == best and second}
    return _guess(best, max(seconds, key=lambda name: seconds[name], default=""), findings)


def _causes_of(findings: list[Finding]) -> list[tuple[str, str]]:
    return sorted({finding.cause for finding in findings if finding.cause[0] != UNKNOWN})


def _score(own: list[Finding], lexicon: Lexicon) -> float:
    total = 0.0
    for name in dict.fromkeys(finding.cell for finding in own):
        strengths = [finding.strength for finding in own if finding.cell == name]
        total += lexicon.field_weights[name] * _with_others(strengths, lexicon)
    return total


def _with_others(strengths: list[float], lexicon: Lexicon) -> float:
    """The largest, and a little of the next: many weak words must not drown a strong one."""
    ordered = sorted(strengths, reverse=True)
    return sum(ordered[:1]) + lexicon.reading["others_ratio"] * sum(ordered[1:2])


def _guess(top: str, second: str, findings: list[Finding]) -> Cause:
    own = [finding for finding in findings if finding.cause in {(top, ""), (top, second)}]
    proved = [finding for finding in own if finding.proved]
    words = dict.fromkeys(word for finding in proved or own for word in finding.words)
    return Cause(top, second, PROVED if proved else GUESSED, tuple(words))


def _unknown(findings: list[Finding], remedy_failed: bool) -> Cause:
    """Unknown, with the second level that closing note and action tell; of two told the firmer."""
    said = [finding for finding in findings if finding.cause[0] == UNKNOWN and finding.cell != "symptom"]
    words = tuple(dict.fromkeys(word for finding in said for word in finding.words))
    best = max(said, key=lambda finding: (finding.strength, finding.cause[1] == LOOKED), default=None)
    if best is not None and (best.strength > 1.0 or not remedy_failed):
        return Cause(UNKNOWN, best.cause[1], NO_EVIDENCE, words)
    return Cause(UNKNOWN, LOOKED if remedy_failed else "not looked at", NO_EVIDENCE, words)
