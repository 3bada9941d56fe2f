"""What the page on parts says in sentences: what wears out, what fails early, and how sure that is."""

from __future__ import annotations

import re

from pipeline.render.language import say, say_counted, whole
from pipeline.render.reading import Row, Rows
from pipeline.render.transports.parts_numbers import Values, kind_word, life_hours, share_of
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.words import chance, counted, figure, limits, listed

MOST_TOLD = 3
MOST_REASONS = 12
TOO_FEW = re.compile(r"(\d+) of the (\d+) failures that are needed")


def answer(found: Values) -> list[str]:
    """The first paragraphs: what wears out, what fails early, what in use is least sure to last, and how sure."""
    kinds = found["kinds"]
    if not kinds:
        return [
            say(
                "No fitting of a head or a part is logged that names its kind, so how long parts last is not known. It "
                "would need the events head_fitted and part_fitted, with the serial or the part in their detail."
            )
        ]
    return [*_verdicts(found), *_unlike(found), _stays(kinds[0]), _early(found), _next(found)]


def _verdicts(found: Values) -> list[str]:
    fitted = [kind for kind in found["kinds"] if kind["weibull"]]
    if not fitted:
        return [_not_told(found)]
    shown = [kind for kind in fitted if kind["verdict"] != "not told"]
    told = [_verdict(kind) for kind in shown[:MOST_TOLD]]
    if len(shown) > MOST_TOLD:
        more = say_counted(
            "So it is shown of {n} more kind; the table has them all.",
            "So it is shown of {n} more kinds; the table has them all.",
            len(shown) - MOST_TOLD,
        )
        told.append(more)
    silent = [kind for kind in fitted if kind["verdict"] == "not told"]
    if silent:
        rest = [say("{count} more", count=whole(len(silent) - MOST_TOLD))] if len(silent) > MOST_TOLD else []
        names = listed([*(_unshown(kind) for kind in silent[:MOST_TOLD]), *rest])
        told.append(say("Not shown to wear out, nor to fail early: {kinds}.", kinds=names))
    return told


def _not_told(found: Values) -> str:
    lives, least = counted(found["lives_count"], "life", "lives"), whole(found["least_failures_count"])
    if not found["failures_count"]:
        return say(
            "Which kinds wear out cannot be told: of {lives} known from their fitting none ended in a failure that a "
            "ticket names, and no kind has the {least} that are needed.",
            lives=lives,
            least=least,
        )
    return say(
        "Which kinds wear out cannot be told: of {lives} known from their fitting {failures} ended in a failure that a "
        "ticket names, and no kind has the {least} that are needed.",
        lives=lives,
        failures=whole(found["failures_count"]),
        least=least,
    )


def _unlike(found: Values) -> list[str]:
    """Kinds that do not last alike on all machines, by the adjusted p; nothing where none is shown."""
    kinds = [
        say("{kind} (adjusted {p})", kind=kind_word(kind["kind"]), p=chance(kind["machines"]["adjusted_p"]))
        for kind in found["kinds"]
        if kind["machines"] and kind["machines"]["adjusted_p"] < found["level"]
    ]
    if not kinds:
        return []
    names = listed(kinds[:MOST_TOLD])
    return [say("Not used up alike on all machines, by more than chance easily gives: {kinds}.", kinds=names)]


def _stays(kind: Row) -> str:
    """How long the kind with most lives stays in, whatever ends it."""
    stay, name, lives = kind["removal_h"], kind_word(kind["kind"]), whole(kind["n"])
    if stay["median"] is None:
        return say(
            "Fewer than half of the {lives} lives of the {kind} have ended, for whatever reason.",
            lives=lives,
            kind=name,
        )
    return say(
        "Whatever the reason, half of the {kind} lives ({lives}) have ended by {median} on tape ({low} to {high}).",
        kind=name,
        lives=lives,
        median=life_hours(stay["median"]),
        low=life_hours(stay["low"]),
        high=life_hours(stay["high"]),
    )


def _verdict(kind: Row) -> str:
    weibull, name = kind["weibull"], kind_word(kind["kind"])
    size = say_counted(
        "shape {shape}, {limits}, from {n} failure, adjusted {p}",
        "shape {shape}, {limits}, from {n} failures, adjusted {p}",
        weibull["failures_count"],
        shape=figure(weibull["shape"]["value"]),
        limits=limits(weibull["shape"]["low"], weibull["shape"]["high"]),
        p=chance(weibull["adjusted_p"]),
    )
    if kind["verdict"] == "wears out":
        b10 = weibull["b10_h"]
        return say(
            "The {kind} wears out ({size}): the longer it has run, the likelier it fails in its next hour. One in ten "
            "has failed by {b10} on tape ({limits}).",
            kind=name,
            size=size,
            b10=life_hours(b10["value"]),
            limits=limits(b10["low"], b10["high"]),
        )
    return say(
        "The {kind} fails early ({size}): the longer it has run, the safer it is, so a change by hours puts a safe "
        "part out and a doubtful one in.",
        kind=name,
        size=size,
    )


def _unshown(kind: Row) -> str:
    weibull = kind["weibull"]
    shape = weibull["shape"]
    return say_counted(
        "{kind} (shape {shape}, {limits}; its {n} failure would mostly have told a shape from {least})",
        "{kind} (shape {shape}, {limits}; its {n} failures would mostly have told a shape from {least})",
        weibull["failures_count"],
        kind=kind_word(kind["kind"]),
        shape=figure(shape["value"]),
        limits=limits(shape["low"], shape["high"]),
        least=figure(weibull["told_from"]),
    )


def _early(found: Values) -> str:
    hours = plain(found["early_h"])
    early = [kind for kind in found["kinds"] if kind["early_h"]["count"]]
    if not early:
        return _none_early(sum(kind["early_h"]["trials_count"] for kind in found["kinds"]), hours)
    parts = [
        say(
            "{kind} {count} of {watched}, {share}",
            kind=kind_word(kind["kind"]),
            count=whole(kind["early_h"]["count"]),
            watched=whole(kind["early_h"]["trials_count"]),
            share=share_of(kind["early_h"]),
        )
        for kind in early[:MOST_TOLD]
    ]
    kinds = "; ".join(parts)
    return say("Failed within the first {hours} head hours after fitting: {kinds}.", hours=hours, kinds=kinds)


def _none_early(watched: int, hours: str) -> str:
    if not watched:
        return say(
            "No part was seen to run {hours} head hours from its fitting on, so early failures cannot be judged.",
            hours=hours,
        )
    if watched == 1:
        return say(
            "Not even the one part that ran at least {hours} head hours failed within the first {hours} after fitting.",
            hours=hours,
        )
    return say(
        "None of the {count} parts that ran at least {hours} head hours failed within the first {hours} after fitting.",
        count=whole(watched),
        hours=hours,
    )


def _next(found: Values) -> str:
    modelled = [row for kind in found["kinds"] for row in kind["running"] if row["basis"] == "weibull"]
    if not modelled:
        return say(
            "Which part in use will need replacing first cannot be told from failures; the table gives their hours."
        )
    least = min(modelled, key=lambda row: row["last_100_h"]["value"])
    serial = f" {least['detail']}" if least["kind"] == "head" and least["detail"] else ""
    return say(
        "Of the parts in use, the one least sure to last is the {part} in {machine}, at {hours}: its chance to last "
        "the next 100 head hours is {share}.",
        part=f"{kind_word(least['kind'])}{serial}",
        machine=least["machine"],
        hours=life_hours(least["life_h"]),
        share=share_of(least["last_100_h"]),
    )


def reading_of_shape(kind: Row) -> str:
    """What the shape of a life says, in words, by its adjusted p."""
    if kind["verdict"] == "wears out":
        return say("wears out")
    if kind["verdict"] == "fails early":
        return say("fails early: run to failure")
    if kind["weibull"]["shape"]["value"] > 1.0:
        return say("above 1, not told from chance: run to failure until shown otherwise")
    return say("at or below 1, not told from chance: run to failure until shown otherwise")


def why_no_fit(kinds: Rows) -> str:
    """Why the other kinds have no Weibull life, a reason and its kinds at a time; empty where all have one."""
    reasons: dict[str, list[str]] = {}
    for kind in kinds:
        if kind["weibull_why"]:
            reasons.setdefault(kind["weibull_why"], []).append(kind_word(kind["kind"]))
    told = [f"{_some(names)} ({_reason(reason)})" for reason, names in reasons.items()]
    return say("No Weibull life is fitted to {kinds}.", kinds="; ".join(told)) if told else ""


def _reason(why: str) -> str:
    """A reason of figures.json in the language in force."""
    if few := TOO_FEW.fullmatch(why):
        return say("{count} of the {least} failures that are needed", count=few[1], least=few[2])
    known = {
        "fitted once only": say("fitted once only"),
        "all failures are at the longest life": say("all failures are at the longest life"),
    }
    return known.get(why, why)


def _some(names: list[str]) -> str:
    rest = len(names) - MOST_REASONS
    more = [say_counted("{n} more kind", "{n} more kinds", rest)] if rest > 0 else []
    return listed([*names[:MOST_REASONS], *more])
