"""Reads an account as a distrustful engineer would: sentence by sentence, with the files open at the lines it names.

Nothing here comes from the program. A sentence is parsed; every time, machine, length and word in it must be found in
the rows it points at, and what it says of states must follow from the rows of the whole site (``raw_site``).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from tests.render.raw_site import Fact, RawSite

BAD = ("stop", "unlock", "picture_lost", "sound_lost")
CLOCK = r"(?:\d+ [A-Z][a-z]+ \d{4} at )?\d\d:\d\d:\d\d(?:\.\d\d)?(?: [A-Z]{2,5})?"
T = CLOCK + r" \((?:± [^)]*|as booked|as the ticket says)\)"
TIME = re.compile(r"(?:(\d+ [A-Z][a-z]+ \d{4}) at )?(\d\d:\d\d:\d\d)(\.\d\d)?(?: ([A-Z]{2,5}))? \(([^)]*)\)")
D = r"(?:under 0\.01 s|[\d,]+ h(?: \d\d min)?|\d+ min(?: \d\d s)?|[\d.]+ s)(?: \(± [^)]*\))?"
LENGTH = re.compile(r"(under 0\.01 s)|([\d,]+) h(?: (\d\d) min)?|(\d+) min(?: (\d\d) s)?|([\d.]+) s")
HELD = {"T": T, "D": D, "M": r"[A-Z][A-Z0-9]*", "C": r"\w+", "X": r".+?", "K": r"[A-Z]\d+", "V": r"[+−]\d+ ms"}
KIND_WORDS = {
    "a forced switch": ("fault",),
    "a switch made as a precaution": ("precaution",),
    "a planned switch": ("planned", "rehearsal"),
    "a return": ("return",),
    "a switch that nothing explains": (),
}


@dataclass(frozen=True)
class When:
    """A time as printed: its instant in naive UTC, and what stands in brackets behind it."""

    at: datetime
    margin: str


@dataclass
class Reader:
    """What the checks of one sentence share."""

    site: RawSite
    facts: list[Fact]
    start: datetime
    account: Sequence[str]
    margins: dict[str, float | None]
    groups: dict[str, str]

    def when(self, name: str) -> When:
        return self.parse(self.groups[name])

    def parse(self, text: str) -> When:
        """A printed time; without a date it is of the local day on which the account begins."""
        day, clock, part, zone, margin = TIME.fullmatch(text).groups()  # type: ignore[union-attr]
        local = self.start.replace(tzinfo=UTC).astimezone(self.site.zone)
        date = datetime.strptime(day, "%d %B %Y").date() if day else local.date()  # noqa: DTZ007
        wall = datetime.fromisoformat(f"{date} {clock}{part or '.00'}0").replace(tzinfo=self.site.zone)
        if zone and wall.tzname() != zone:
            wall = wall.replace(fold=1)
        at = wall.astimezone(UTC).replace(tzinfo=None)
        exact = [instant for fact in self.facts for instant in instants(fact, self.site) if near(instant, at)]
        return When(min(exact, key=lambda instant: abs(instant - at), default=at), margin)

    def at(self, when: When, kind: str = "", **cells: str | None) -> Fact | None:
        """The row pointed at that has just that instant (to the hundredth printed) and these cells."""
        return next((fact for fact in self.facts if self._is(fact, kind, cells) and near(fact.at, when.at)), None)

    def of(self, kind: str, **cells: str | None) -> list[Fact]:
        return [fact for fact in self.facts if self._is(fact, kind, cells)]

    def _is(self, fact: Fact, kind: str, cells: dict[str, str | None]) -> bool:
        return (not kind or fact.kind == kind) and all(fact.row.get(name) == cell for name, cell in cells.items())

    def apart(self, name: str, first: Fact | None, last: Fact | None) -> bool:
        """Whether a printed length is that between two rows."""
        return bool(first and last and is_length(self.groups[name], (last.at - first.at).total_seconds()))


def near(one: datetime, other: datetime) -> bool:
    """Whether two instants are the same when printed to the hundredth of a second."""
    return abs((one - other).total_seconds()) <= 0.0051


def is_length(text: str, seconds: float) -> bool:
    """Whether a printed length is ``seconds``, as fine as it is printed; half a step is allowed either way."""
    small, hours, rest, minutes, tail, plain = LENGTH.match(text).groups()  # type: ignore[union-attr]
    if small:
        return 0 <= seconds < 0.005
    if hours:
        return abs(int(hours.replace(",", "")) * 3600 + int(rest or 0) * 60 - seconds) <= 30.01
    if minutes:
        return abs(int(minutes) * 60 + int(tail or 0) - seconds) <= 0.51
    return abs(float(plain) - seconds) <= (0.0051 if "." in plain and len(plain.split(".")[1]) == 2 else 0.051)


Check = Callable[[Reader], bool]
KINDS: list[tuple[str, re.Pattern[str], Check]] = []


def kind(name: str, text: str) -> Callable[[Check], Check]:
    """Register a kind of sentence: ``{T:t}`` is a time named t, and so on; the rest stands as it is."""
    pieces = re.split(r"\{(\w):(\w+)\}", text)
    pattern = "".join(
        re.escape(piece) if place % 3 == 0 else "" if place % 3 == 1 else f"(?P<{piece}>{HELD[pieces[place - 1]]})"
        for place, piece in enumerate(pieces)
    )

    def keep(check: Check) -> Check:
        KINDS.append((name, re.compile(pattern), check))
        return check

    return keep


def read_account(
    sentences: Sequence[Any], site: RawSite, margins: dict[str, float | None], *, only: int | None = None
) -> Iterator[tuple[str, str, list[str]]]:
    """(kind, text, problems) of each sentence of one account, or of one; one of no known kind is a problem."""
    texts = [sentence.text for sentence in sentences]
    dated = next(text for text in texts if re.match(r"\d+ [A-Z]", text))
    reader = Reader(site, [], datetime(2031, 1, 1), texts, margins, {})  # noqa: DTZ001
    reader.facts = [
        site.facts[line] for one in sentences if one.text == dated for line in one.lines if line in site.facts
    ]
    start = reader.parse(re.match(T, dated).group()).at  # type: ignore[union-attr]
    for sentence in sentences if only is None else [sentences[only]]:
        missing = [place for place in sentence.lines if place not in site.facts]
        facts = [site.facts[place] for place in sentence.lines if place in site.facts]
        found = next(
            ((name, match, check) for name, form, check in KINDS if (match := form.fullmatch(sentence.text))), None
        )
        if found is None:
            yield "", sentence.text, ["no kind of sentence that is known"]
            continue
        name, match, check = found
        own = Reader(site, facts, start, texts, margins, match.groupdict())
        problems = [f"no such row: {place}" for place in missing] + list(times(own, sentence.text))
        if not problems and not check(own):
            problems.append("the rows do not say so")
        yield name, sentence.text, problems


def times(reader: Reader, text: str) -> Iterator[str]:
    """Every printed time must be that of a row pointed at, with the ± of its clock."""
    for match in re.finditer(T, text):
        when = reader.parse(match.group())
        rows = [fact for fact in reader.facts if any(near(at, when.at) for at in instants(fact, reader.site))]
        if not rows:
            yield f"no row pointed at has the time {match.group()}"
        elif not any(is_margin(when.margin, fact, reader) for fact in rows):
            yield f"no row at that time has such a ±: {match.group()}"


def instants(fact: Fact, site: RawSite) -> list[datetime]:
    """The instants that a row states."""
    cells = {"booking": ("starts", "ends"), "ticket": ("restored",)}.get(fact.kind, ())
    return [fact.at, *(site.utc(fact.row[cell]) for cell in cells if fact.row.get(cell))]


def is_margin(margin: str, fact: Fact, reader: Reader) -> bool:
    """A machine's line has the ± of its clock; a take one step of its stamp's last digit; else on whose word it is."""
    if fact.kind in ("booking", "ticket"):
        return margin == {"booking": "as booked", "ticket": "as the ticket says"}[fact.kind]
    if fact.kind == "event":
        known = reader.margins.get(fact.row["machine"])
        return margin == "± not known" if known is None else is_length(margin.removeprefix("± "), known)
    digits = re.search(r":\d\d:\d\d(?:\.(\d+))?", str(fact.row["at"]))
    return digits is not None and is_length(margin.removeprefix("± "), 10.0 ** -len(digits.group(1) or ""))


def onsets(reader: Reader) -> list[Fact]:
    """Rows among those pointed at that can be an onset."""
    return [fact for fact in reader.of("event") if fact.row["event"] in (*BAD, "alarm", "roll")]


def machine_left(reader: Reader) -> str:
    """The machine that the account is about, from its dated sentence."""
    text = next(text for text in reader.account if re.match(r"\d+ [A-Z]", text))
    match = re.search(r"lost; ([A-Z]\w*), on air", text) or re.search(r"in place of (\w+)", text)
    return match.group(1) if match else next((fact.row["machine"] for fact in reader.of("event")), "")


def begins(reader: Reader) -> bool:
    """Whether one of the rows pointed at is that of the beginning."""
    return any(near(at, reader.start) for fact in reader.facts for at in instants(fact, reader.site))


def channel_of(reader: Reader) -> str:
    return re.search(r"channel (\w+)", " ".join(reader.account)).group(1)  # type: ignore[union-attr]
