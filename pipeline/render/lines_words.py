"""How the pages of lists name and print a figure: once as it stands on the other pages, once to the last digit."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence

from pipeline.render.cause_names import cause_word
from pipeline.render.definitions import Term
from pipeline.render.language import SOURCE, localised, say, spoken_language, whole
from pipeline.render.lines_labels import labels, sections
from pipeline.render.lines_names import Key
from pipeline.render.page_words import p_value, reached
from pipeline.render.page_words import seconds as signed_seconds
from pipeline.render.words import capital, continuity, duration, figure, hours, month_name, percent
from pipeline.results import Scope

TERMS = {"comparisons": "rate_comparison", "clock": "clock"}
CAUSE = "cause-"
SHARES = ("running_ratio", "worst_by_luck")
CHANCES = ("p", "adjusted_p")
SECTIONS = {"continuity_low": "continuity_bounds", "continuity_high": "continuity_bounds"}
SHORT = ("lost_s", "rescued_s", "overrun_s", "elsewhere_s")
COUNTS = ("n", "open")
MICROSECONDS = 1_000_000


def section_of(figure_name: str) -> str:
    """The place of the section a figure stands in: nested figures and the two bounds of continuity share one."""
    return SECTIONS.get(figure_name, figure_name.partition(".")[0])


def is_seconds(figure_name: str) -> bool:
    """Whether a figure is in seconds: by its own name, or as a time of recovery by that of what it is nested in."""
    base, _, last = figure_name.rpartition(".")
    return last.endswith("_s") or last == "unprotected" or (base.endswith("_s") and last not in COUNTS)


def shown(figure_name: str, value: float | int | None) -> str:
    """The value as the other pages print it."""
    base, _, last = figure_name.rpartition(".")
    if base.endswith("_s") and last not in COUNTS:
        return reached(value)
    if is_seconds(figure_name):
        return signed_seconds(value) if last == "offset_s" else duration(value) if last in SHORT else hours(value)
    if last.startswith("continuity"):
        return continuity(value)
    if last in SHARES or base.endswith("demands_met"):
        return percent(value)
    if last in CHANCES and value is not None:
        return p_value(value)
    return whole(value) if isinstance(value, int) else figure(value)


def exact(figure_name: str, value: float | int | None) -> str:
    """The value to the last digit with its unit, or nothing where ``shown`` says it all."""
    if value is None or isinstance(value, int) or not value:
        return ""
    return f"{seconds_text(round(value * MICROSECONDS))} s" if is_seconds(figure_name) else plain(value)


def plain(value: float) -> str:
    """A number with all its digits, its decimal sign that of the language."""
    return repr(value).replace(".", localised("."))


def seconds_text(microseconds: int, places: int | None = None) -> str:
    """Microseconds as seconds with three places, or six where three would lose something: "1,234.500"."""
    digits = places or places_of((microseconds,))
    seconds, part = divmod(abs(microseconds), MICROSECONDS)
    sign = "-" if microseconds < 0 else ""
    return localised(f"{sign}{seconds:,}.{part:06d}"[: digits - 6 or None])


def places_of(amounts: tuple[int, ...] | list[int]) -> int:
    """How many places of a second all of ``amounts`` (microseconds) need: three or six."""
    return 6 if any(amount % 1000 for amount in amounts) else 3


def name_of(section: str, terms: Mapping[str, Term], causes: Sequence[str] = ()) -> str:
    """A section's heading: the figure's name in the definitions, a cause's, or its own name in words."""
    if section.startswith(CAUSE):
        cause = causes[int(section.removeprefix(CAUSE)) - 1]
        return say("Cause: {cause}", cause=cause_word(cause))
    term = terms.get(TERMS.get(section, section))
    return term.name if term else sections().get(section) or section.replace("_", " ").capitalize()


def label_of(figure_name: str, section: str, terms: Mapping[str, Term]) -> str:
    """What a figure is within its section; empty where it is the section's only one."""
    if figure_name == section:
        return ""
    parts = figure_name.removeprefix(f"{section}.").split(".")
    names = [labels().get(part) or (terms[part].name if part in terms else part.replace("_", " ")) for part in parts]
    if spoken_language().tag != SOURCE:  # there a noun may begin with a large letter anywhere
        return ", ".join(names)
    return capital(", ".join([names[0], *(name[0].lower() + name[1:] for name in names[1:])]))


def key_words(key: Key) -> str:
    """What a page is of, in words: "March 2031, channel One", "VT1", or "the whole period"."""
    month, channel, machine = key
    named = say("channel {channel}", channel=channel) if channel else ""
    words = [month_name(month) if month else "", named, machine]
    return ", ".join(word for word in words if word) or say("the whole period")


def command(figure_name: str, scope: Scope) -> str:
    """The command line that lists every item of a figure; SITE stands for the site's folder."""
    options = (
        ("--month", scope.month), ("--channel", scope.channel), ("--machine", scope.machine), ("--cause", scope.cause),
    )  # fmt: skip
    words = [part for option, name in options if name for part in (option, shlex.quote(name))]
    return " ".join(["airhours lines SITE", figure_name, *words, "--limit 0"])
