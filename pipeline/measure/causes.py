"""Reads a ticket's cause, on two levels and with the grade of the evidence, from what the engineers wrote.

A cell that names a cause is taken at its word. Else words decide, and are returned so that a reader can judge the
guess. Where the words do not reach, the answer is unknown: an operator's fault is never read out of silence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.measure.cause_findings import UNKNOWN, Finding, read_cell
from pipeline.measure.cause_lexicon import Lexicon, load_lexicon

STATED, PROVED, GUESSED, NO_EVIDENCE = "stated", "proved by swap", "guessed from words", "none"


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
    ("cleaned, no better") does not count. Never raises on text.
    """
    lexicon = load_lexicon()
    stated = _stated(cause, lexicon)
    if stated is not None and stated.top != UNKNOWN:
        return stated
    cells = {"cause": None if stated else cause, "action": action, "part": part, "symptom": symptom}
    if not any((cell or "").strip() for cell in cells.values()):
        return stated or Cause(UNKNOWN, "record missing", NO_EVIDENCE, ())
    read = {name: read_cell(name, cell, lexicon) for name, cell in cells.items()}
    tried = read["action"].tried  # what the symptom made one think of is settled by the remedy that failed
    findings = [
        finding
        for cell in read.values()
        for finding in cell.findings
        if finding.cell != "symptom" or finding.cause not in tried
    ]
    guess = _decide(findings, lexicon)
    return guess or (stated if stated and stated.second else None) or _unknown(findings, read["action"].failed)


def _stated(cause: str | None, lexicon: Lexicon) -> Cause | None:
    """The cause that the cell names by its own name, at either level or as "first: second"."""
    named = _letters(cause or "")
    if not named:
        return None
    for top, second in lexicon.order:
        if second and named in {_letters(second), _letters(top + second)}:
            return Cause(top, second, STATED, ((cause or "").strip(),))
    tops = {_letters(top): top for top, _ in lexicon.order}
    return Cause(tops[named], "", STATED, ((cause or "").strip(),)) if named in tops else None


def _letters(text: str) -> str:
    return re.sub(r"\W+", "", text.casefold())


def _decide(findings: list[Finding], lexicon: Lexicon) -> Cause | None:
    """The first level with the highest score, and in it the best told second level; None if no score is enough."""
    scores: dict[tuple[str, str], float] = {}
    for top, second in lexicon.order:
        if top != UNKNOWN:
            own = [finding for finding in findings if finding.cause == (top, second)]
            scores[top, second] = _score(own, lexicon)
    tops = {top for top, _ in scores}
    totals = {top: _with_others([scores[key] for key in scores if key[0] == top], lexicon) for top in tops}
    best = max((top for top, _ in lexicon.order if top in totals), key=lambda top: totals[top])
    if totals[best] < lexicon.reading["least_score"]:
        return None
    told = {second: score for (top, second), score in scores.items() if top == best and second and score > 0}
    second = max(told, key=lambda name: told[name], default="")
    return _guess(best, second, findings)


def _score(own: list[Finding], lexicon: Lexicon) -> float:
    total = 0.0
    for name, weight in lexicon.field_weights.items():
        total += weight * _with_others([finding.strength for finding in own if finding.cell == name], lexicon)
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
    said = [finding for finding in findings if finding.cause[0] == UNKNOWN and finding.cell != "symptom"]
    words = tuple(dict.fromkeys(word for finding in said for word in finding.words))
    looked = remedy_failed or any(finding.cause[1] == "looked and not found" for finding in said)
    return Cause(UNKNOWN, "looked and not found" if looked else "not looked at", NO_EVIDENCE, words)
