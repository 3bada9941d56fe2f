"""Which kind of feed a file is: the one whose columns its own fit best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.errors import FeedError
from pipeline.ingest.feeds import BOOKINGS, EVENTS, EXPORTED, Feed
from pipeline.ingest.propose.candidates import Candidate
from pipeline.ingest.propose.columns import Assignment, assign
from pipeline.ingest.propose.phrasebook import fold, phrasebook
from pipeline.ingest.propose.toml_text import shown

KIND_OF_FORMAT = {"syslog": EVENTS, "calendar": BOOKINGS}  # what else they may be is said with --kind
# Weights of: required columns found, share of their columns explained, and the file's name. A choice.
REQUIRED_WEIGHT, EXPLAINED_WEIGHT, NAME_WEIGHT = 0.6, 0.3, 0.1
LEAST_SCORE, MARGIN = 0.4, 0.07
REGISTERS = ("machines", "reels")
LEAST_UNIQUE = 0.9  # share of distinct cells in the first column of a register


@dataclass(frozen=True)
class Choice:
    """The kind chosen, its columns, why, and a sentence where another would do nearly as well."""

    assignment: Assignment
    why: str
    doubt: str = ""

    @property
    def feed(self) -> Feed:
        """The feed chosen."""
        return self.assignment.feed


def choose_kind(file: str, form: str, candidates: Sequence[Candidate], kind: str = "") -> Choice:
    """The kind of feed that a file with these columns is; ``kind`` if it is given.

    Raises:
        FeedError: ``kind`` is none, or its columns are like those of no feed.
    """
    feeds = {feed.name: feed for feed in EXPORTED}
    if kind and kind not in feeds:
        raise FeedError(f'"{kind}" is no kind of feed. Expected one of {", ".join(feeds)}.')
    if kind:
        return Choice(assign(feeds[kind], candidates), "as asked for")
    if form in KIND_OF_FORMAT:
        return Choice(assign(KIND_OF_FORMAT[form], candidates), f"what a {form} file mostly is")
    tried = [assign(feed, candidates) for feed in EXPORTED]
    ranked = sorted(((_score(each, file, candidates), each) for each in tried), key=lambda pair: -pair[0])
    (score, best), (next_score, following) = ranked[0], ranked[1]
    if score < LEAST_SCORE:
        headers = ", ".join(shown(candidate.headers[-1], 30) for candidate in candidates[:8])
        raise FeedError(
            f'"{file}" is like no feed by its columns ({headers}). Say what it is: --kind events, or another.'
        )
    doubt = (
        f"kind: by its columns it may be {following.feed.name} as well. Say so with --kind."
        if next_score > score - MARGIN
        else ""
    )
    return Choice(best, _why(best), doubt)


def best_score(file: str, candidates: Sequence[Candidate], kind: str = "") -> float:
    """How well the columns fit the feed they fit best, 0 to 1; of ``kind`` if it is given."""
    feeds = [feed for feed in EXPORTED if kind in {"", feed.name}]
    return max((_score(assign(feed, candidates), file, candidates) for feed in feeds), default=0.0)


def _score(assignment: Assignment, file: str, candidates: Sequence[Candidate]) -> float:
    feed = assignment.feed
    found = {match.ours.name for match in assignment.matches}
    required = sum(name in found for name in feed.required) / len(feed.required)
    places = {place for candidate in candidates for place in candidate.places}
    used = {place for match in assignment.matches for place in match.candidate.places}
    named = any(f" {phrase} " in f" {fold(file)} " for phrase in phrasebook().kinds[feed.name])
    score = REQUIRED_WEIGHT * required + EXPLAINED_WEIGHT * len(used) / max(1, len(places)) + NAME_WEIGHT * named
    return score if _may_be_register(assignment) else score / 3


def _may_be_register(assignment: Assignment) -> bool:
    """False for a register whose machines or reels come again and again, as only a log has them."""
    key = assignment.match(assignment.feed.required[0]) if assignment.feed.name in REGISTERS else None
    return key is None or key.candidate.traits.distinct >= LEAST_UNIQUE * key.candidate.traits.filled


def _why(assignment: Assignment) -> str:
    found = {match.ours.name for match in assignment.matches}
    required, own = assignment.feed.required, assignment.feed.columns
    needed = sum(name in found for name in required)
    return f"{needed} of the {len(required)} columns it needs are found, {len(found)} of {len(own)} in all"
