"""How well the cells of a column would do as one of ours, whatever it is called."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ingest.feeds import Column
from pipeline.ingest.propose.phrasebook import SOURCES, fold
from pipeline.ingest.propose.phrases import phrase_share
from pipeline.ingest.propose.traits import MOST, NEARLY_ALL, Traits
from pipeline.ingest.propose.words import known_share, meaning_of

SAYS_NOTHING = 0.5
NEVER = -1.0
MACHINES = ("machine", "from_machine", "to_machine", "recorded_on", "pair")
IDS = ("ticket", "booking", "transmission", "reel")
MOST_MACHINES = 60
LONG_ID = 120  # of a key in one word; such as machines make are long
LONG_TEXT = 40  # mean length in characters, above which a cell is no name and no number
# Units that ours are not in: `value` is in seconds or hours, `labour_hours` in hours. No table turns one into another.
OTHER_UNITS = frozenset(
    (
        "ms",
        "msec",
        "millis",
        "min",
        "mins",
        "minutes",
        "minuten",
        "minuter",
        "minutos",
        "frames",
        "bilder",
        "days",
        "tage",
        "dagar",
        "jours",
    )
)
WITH_UNIT = ("value", "labour_hours")
# Magnitudes of numbers that count from 1970-01-01T00:00Z for 2000 to 2100, and of days from 1900 (1954 to 2119).
EPOCHS = {
    "epoch_s": (946_684_800, 4_102_444_800),
    "epoch_ms": (946_684_800e3, 4_102_444_800e3),
    "epoch_us": (946_684_800e6, 4_102_444_800e6),
}
SERIALS = (20_000, 80_000)


@dataclass(frozen=True)
class Fit:
    """How well cells fit, 0 to 1, 0.5 if they say nothing, ``NEVER`` if they cannot be; and why, for a comment.

    ``is_proof`` tells cells that can hardly be anything else, whatever the column is called.
    """

    share: float
    why: str
    is_proof: bool = False


def fit(traits: Traits, column: Column) -> Fit:
    """How well a column with ``traits`` would do as ``column`` of ours."""
    if not traits.filled:
        return Fit(SAYS_NOTHING, "no cell is filled")
    if column.kind == "time":
        return _as_time(traits)
    if column.kind == "number":
        return _as_number(traits, column)
    if column.kind == "word":
        return _as_word(traits, column)
    return _as_text(traits, column)


def numeric_notation(traits: Traits) -> str:
    """``epoch_s``, ``epoch_ms``, ``epoch_us`` or ``serial`` if nearly all cells are such numbers, else empty."""
    values = [value for value in map(_float, traits.counts) if value is not None]
    if len(values) < NEARLY_ALL * max(traits.distinct, 1):
        return ""
    for name, (low, high) in {**EPOCHS, "serial": SERIALS}.items():
        if sum(low <= value < high for value in values) >= NEARLY_ALL * len(values):
            return name
    return ""


def _as_time(traits: Traits) -> Fit:
    share = traits.share("stamp", "yearless")
    if share >= MOST:
        return Fit(share, _counted(traits, share, "are times"), share >= NEARLY_ALL)
    if traits.is_day:
        return Fit(0.8, _counted(traits, traits.share("day"), "are dates without a time of day"))
    if traits.is_clock:
        return Fit(0.7, _counted(traits, traits.share("clock"), "are times without a date"))
    notation = numeric_notation(traits)
    return (
        Fit(0.8, f"numbers of the magnitude of {notation} times") if notation else Fit(NEVER, "its cells are no times")
    )


def _as_number(traits: Traits, column: Column) -> Fit:
    if column.name in WITH_UNIT and OTHER_UNITS & set(fold(traits.header).split()):
        return Fit(NEVER, "its name says another unit than ours")
    share = traits.share("number")
    return (
        Fit(share, _counted(traits, share, "are numbers")) if share >= MOST else Fit(NEVER, "its cells are no numbers")
    )


def _as_word(traits: Traits, column: Column) -> Fit:
    if traits.share("stamp", "yearless", "day", "clock", "number") > MOST:
        return Fit(NEVER, "its cells are times or numbers")
    share = known_share(column.name, traits.counts)
    if column.name == "event":
        share = max(share, phrase_share(traits.counts))
    if share == 0:
        return Fit(0.1, f"none of its words is known as {column.name}")
    return Fit((1 + share) / 2, _counted(traits, share, "have a word like ours"), share >= NEARLY_ALL)


def _as_text(traits: Traits, column: Column) -> Fit:
    if traits.share("stamp", "yearless", "day", "clock") > MOST:
        return Fit(NEVER, "its cells are times")
    if column.name in MACHINES:
        return _as_machine(traits, column)
    if column.name in IDS:
        spaced = sum(count for value, count in traits.counts.items() if " " in value)
        if traits.mean_length > (LONG_TEXT if spaced > MOST * traits.filled else LONG_ID):
            return Fit(NEVER, "its cells are long texts")
        return Fit(0.8 if traits.distinct >= NEARLY_ALL * traits.filled else SAYS_NOTHING, "short texts")
    return Fit(SAYS_NOTHING, "")


def _as_machine(traits: Traits, column: Column) -> Fit:
    if traits.mean_length > LONG_TEXT:
        return Fit(NEVER, "its cells are long texts")
    codes = traits.share("code")
    if column.name in SOURCES:
        codes += sum(n for word, n in traits.counts.items() if meaning_of(word, column.name).ours) / traits.filled
    is_few = traits.distinct <= MOST_MACHINES and (
        traits.distinct * 2 <= traits.filled or traits.filled <= MOST_MACHINES
    )
    if codes < NEARLY_ALL or not is_few:
        return Fit(SAYS_NOTHING, "")
    is_proof = column.name == "machine" and traits.distinct * 2 <= traits.filled
    return Fit(min(codes, 1.0), _counted(traits, min(codes, 1.0), "look like machine numbers"), is_proof)


def _counted(traits: Traits, share: float, what: str) -> str:
    return f"{round(share * traits.filled):,} of {traits.filled:,} cells {what}"


def _float(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None
