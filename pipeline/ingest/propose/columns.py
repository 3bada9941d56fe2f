"""Which of their columns is which of ours: the assignment that is best overall, and what stays undecided.

A column is judged by its name and by its cells. Where the two disagree, or another column would do nearly as well,
nothing is proposed: a wrong column is worse than a missing one, for it is not noticed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from pipeline.ingest.feeds import Column, Feed
from pipeline.ingest.propose.candidates import Candidate
from pipeline.ingest.propose.fits import NEVER, Fit, fit
from pipeline.ingest.propose.phrasebook import likeness, phrasebook
from pipeline.ingest.propose.toml_text import shown

# Scores run from 0 to 1. The weights and limits are a choice, made so that a known name with cells that say nothing is
# taken, and one merely near only if its cells agree.
NAME_WEIGHT, FIT_WEIGHT = 0.75, 0.25
LEAST_SCORE = 0.6
# Of cells that can be nothing else, under a name that says nothing: words of ours, and times or machine numbers.
WORD_PROOF, PROOF = 0.85, 0.62
MARGIN = 0.05
NAMED_SOMEHOW = 0.6  # likeness from which it is said why a column is not taken


@dataclass(frozen=True)
class Match:
    """One of ours and what would be it, with its score, and how near the name is."""

    ours: Column
    candidate: Candidate
    score: float
    name_likeness: float
    phrase: str
    fit: Fit

    @property
    def why(self) -> str:
        """The reason, for a comment."""
        name = f"known name for {self.ours.name}" if self.name_likeness == 1 else f'near the name "{self.phrase}"'
        named = "named as ours" if self.phrase == self.ours.name.replace("_", " ") and self.name_likeness == 1 else name
        return "; ".join(part for part in (named if self.name_likeness > 0 else "", self.fit.why) if part)


@dataclass(frozen=True)
class Assignment:
    """The matches decided for one kind of feed, in the order of our columns, and sentences on what is not."""

    feed: Feed
    matches: tuple[Match, ...]
    undecided: tuple[str, ...]

    def match(self, name: str) -> Match | None:
        """What is taken for our column ``name``."""
        return next((match for match in self.matches if match.ours.name == name), None)


def assign(feed: Feed, candidates: Sequence[Candidate]) -> Assignment:
    """Our columns of ``feed`` and what of ``candidates`` is each, none used twice."""
    table = [[_judge(candidate, column, feed) for column in feed.columns] for candidate in candidates]
    if not table:
        return Assignment(feed, (), tuple(_missing(feed, [], [])))
    scores = np.array([[match.score for match in row] for row in table])
    rows, columns = linear_sum_assignment(np.where(scores >= LEAST_SCORE, scores, 0.0), maximize=True)
    taken = {
        int(column): int(row) for row, column in zip(rows, columns, strict=True) if scores[row, column] >= LEAST_SCORE
    }
    doubts = dict(_doubts(feed, candidates, scores, taken))
    matches = [table[row][column] for column, row in sorted(taken.items()) if column not in doubts]
    used = {place for match in matches for place in match.candidate.places}
    matches = [match for match in matches if not _is_day_of_pair(match, matches)]
    refused = [
        match
        for row in table
        for match in row
        if match.fit.share == NEVER and match.name_likeness >= NAMED_SOMEHOW and not used & set(match.candidate.places)
    ]
    return Assignment(feed, tuple(matches), (*doubts.values(), *_missing(feed, matches, refused, [*doubts])))


def _judge(candidate: Candidate, column: Column, feed: Feed) -> Match:
    near, phrase = max(
        (likeness(name, phrasebook().columns[feed.name][column.name]) for name in candidate.names), default=(0.0, "")
    )
    if column.kind != "time" and len(candidate.places) > 1:
        return Match(column, candidate, 0.0, 0.0, "", Fit(0.0, ""))
    fitting = Fit(1.0, candidate.why) if len(candidate.places) > 1 else fit(candidate.traits, column)
    score = 0.0 if fitting.share == NEVER else NAME_WEIGHT * near + FIT_WEIGHT * fitting.share
    if fitting.is_proof and (column.kind == "word" or column.name in {"at", "machine"}):
        score = max(score, WORD_PROOF if column.kind == "word" else PROOF)
    return Match(column, candidate, score, near, phrase, fitting)


def _doubts(
    feed: Feed, candidates: Sequence[Candidate], scores: np.ndarray, taken: dict[int, int]
) -> Iterator[tuple[int, str]]:
    """Our columns, by place, for which another free column would do as well, or that could be swapped with another."""
    for column, row in taken.items():
        places = set(candidates[row].places)
        rivals = [
            other
            for other in range(len(candidates))
            if other not in taken.values()
            and not places & set(candidates[other].places)
            and scores[other, column] >= max(LEAST_SCORE, scores[row, column] - MARGIN)
        ]
        swapped = [
            other
            for other in taken
            if other != column
            and min(scores[taken[other], column], scores[row, other]) >= LEAST_SCORE
            and scores[taken[other], column] + scores[row, other]
            > scores[row, column] + scores[taken[other], other] - MARGIN
        ]
        if rivals or swapped:
            named = [candidates[each] for each in (row, *rivals, *(taken[other] for other in swapped))]
            yield column, f"{feed.columns[column].name}: {_either(named)} would do alike. Say which one it is."


def _is_day_of_pair(match: Match, matches: Sequence[Match]) -> bool:
    """Whether a lone date is also the date of a pair, of which it is the half."""
    mine = match.candidate.places
    return len(mine) == 1 and any(mine[0] in other.candidate.places[:-1] for other in matches if other is not match)


def _either(named: Sequence[Candidate]) -> str:
    names = [shown(candidate.traits.header) for candidate in named[:4]]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _missing(
    feed: Feed, matches: Sequence[Match], refused: Sequence[Match], doubted: Sequence[int] = ()
) -> Iterator[str]:
    found = {match.ours.name for match in matches}
    for place, column in enumerate(feed.columns):
        if column.name in found or place in doubted:
            continue
        near = next((match for match in refused if match.ours is column), None)
        if near is not None:
            yield f"{column.name}: {shown(near.candidate.traits.header)} is named like it, but {near.fit.why}."
        elif column.is_required:
            yield f"{column.name}: no column is near it by name and contents, and {feed.name} cannot do without it."
