"""Scores the reader of causes against labelled tickets, and writes the tables that docs/causes.md prints."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from scipy.stats import binomtest

from pipeline.measure.cause_lexicon import load_lexicon
from pipeline.measure.causes import Cause, read_cause

HERE = Path(__file__).parent
BY_OTHER_HANDS = HERE / "tickets_by_other_hands.csv"
EARLIER = HERE / "labelled_tickets.csv"
UNKNOWN = "unknown"
DESCRIBED = {"L067", "L307", "L311", "L313", "L335"}  # odd ids that the account of the set tells of
SHORT = {
    "heads and tape path": "heads", "signal electronics": "signal", "servo and time base": "servo",
    "tape and recording": "tape", "cooling, air and power": "power", "routing and feeds": "routing", "server": "server",
    "operations": "operations", "not a fault": "no fault", UNKNOWN: UNKNOWN,
}  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """A labelled ticket and the cause that was read from it."""

    ticket: dict[str, str]
    read: Cause

    @property
    def is_right(self) -> bool:
        """Whether the first level is the label's."""
        return self.read.top == self.ticket["top"]

    @property
    def is_named(self) -> bool:
        """Whether a cause was named at all."""
        return self.read.top != UNKNOWN

    @property
    def could_name(self) -> bool:
        """Whether a careful engineer could name the first level; in a set that does not say, wherever one is given."""
        return self.ticket.get("could_name", "yes" if self.ticket["top"] != UNKNOWN else "no") == "yes"


@dataclass(frozen=True)
class Score:
    """Counts over labelled tickets. Shares are of first levels, 0-1."""

    tickets: int
    named: int
    right: int
    nameable: int
    left: int  # of the nameable, left unknown
    second_told: int  # first level right and a second level in the label
    second_right: int

    @property
    def right_ratio(self) -> float:
        """Right among those named."""
        return self.right / self.named

    @property
    def left_ratio(self) -> float:
        """Left unknown among those that a reader could name."""
        return self.left / self.nameable


@cache
def readings(path: Path) -> tuple[Reading, ...]:
    """Every ticket of a labelled set, read."""
    with path.open(encoding="utf-8", newline="") as lines:
        return tuple(
            Reading(ticket, read_cause(ticket["cause"], ticket["symptom"], ticket["action"], ticket["part"]))
            for ticket in csv.DictReader(lines)
        )


def half(remainder: int) -> tuple[Reading, ...]:
    """Of the tickets by other hands those with an even (0) or an odd (1) id."""
    return tuple(each for each in readings(BY_OTHER_HANDS) if int(each.ticket["id"][1:]) % 2 == remainder)


def score(read: Iterable[Reading]) -> Score:
    """Counts over some readings."""
    read = tuple(read)
    told = [each for each in read if each.is_named and each.is_right and each.ticket["second"]]
    return Score(
        tickets=len(read),
        named=sum(each.is_named for each in read),
        right=sum(each.is_named and each.is_right for each in read),
        nameable=sum(each.could_name for each in read),
        left=sum(each.could_name and not each.is_named for each in read),
        second_told=len(told),
        second_right=sum(each.read.second == each.ticket["second"] for each in told),
    )


def share(part: int, whole: int) -> str:
    """A share with its count and, in percent, its exact 95 % limits (Clopper and Pearson 1934)."""
    if not whole:
        return "none"
    limits = binomtest(part, whole).proportion_ci(0.95, method="exact")
    return f"{part} of {whole}: {part / whole:.1%} ({limits.low:.0%}-{limits.high:.0%})".replace("%", " %")


def alone_behind(read: Iterable[Reading]) -> Counter[str]:
    """How many of the causes that were named right rest on one word alone, by that word as the list knows it."""
    lexicon = load_lexicon()
    counts: Counter[str] = Counter()
    for each in read:
        plain = {word.plain for written in each.read.words for clause in lexicon.clauses(written) for word in clause}
        if each.is_named and each.is_right and len(plain) == 1:
            counts.update(plain)
    return counts


def tables() -> str:
    """The measured part of docs/causes.md."""
    odd, both = half(1), readings(BY_OTHER_HANDS)
    sets = {
        "even ids (tuning)": half(0), "**odd ids (measuring)**": odd,
        "odd ids but the five told of": [each for each in odd if each.ticket["id"] not in DESCRIBED],
        "all by other hands": both, "earlier set (tuning)": readings(EARLIER),
    }  # fmt: skip
    hands = {name: [r for r in both if r.ticket["hand"] == name] for name in sorted({r.ticket["hand"] for r in both})}
    odd_of = {name: [r for r in odd if r.ticket["hand"] == name] for name in hands}
    return "\n\n".join(
        (
            _sets(sets),
            "Per first level, odd ids. Right among those read so (precision), right among those meant (recall):",
            _levels(odd),
            "Confusion, odd ids. A row is what was meant, a column what was read:",
            _confusion(odd),
            "Confusion, all ids:",
            _confusion(both),
            "Per hand, odd ids:",
            _sets(odd_of),
        )
    )


def _sets(sets: Mapping[str, Sequence[Reading]]) -> str:
    rows = []
    for name, read in sets.items():
        one = score(read)
        rows.append(
            (
                name,
                str(one.tickets),
                share(one.right, one.named),
                share(one.left, one.nameable),
                f"{one.named - one.right - _wrong_of_nameable(read)} of {one.tickets - one.nameable}",
                f"{one.second_right} of {one.second_told}",
            )
        )
    head = ("tickets", "n", "right among named", "left unknown of those a reader could name", "named, but nothing told",
            "second level right where first is")  # fmt: skip
    return _table(head, rows)


def _wrong_of_nameable(read: Iterable[Reading]) -> int:
    return sum(each.could_name and each.is_named and not each.is_right for each in read)


def _levels(read: tuple[Reading, ...]) -> str:
    rows = []
    for top in SHORT:
        right = sum(each.is_right and each.ticket["top"] == top for each in read)
        meant, so_read = sum(r.ticket["top"] == top for r in read), sum(r.read.top == top for r in read)
        rows.append((top, share(right, so_read), share(right, meant)))
    return _table(("first level", "precision", "recall"), rows)


def _confusion(read: tuple[Reading, ...]) -> str:
    counts = Counter((each.ticket["top"], each.read.top) for each in read)
    rows = [(SHORT[meant], *(str(counts[meant, top] or ".") for top in SHORT)) for meant in SHORT]
    return _table(("meant / read", *SHORT.values()), rows)


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
