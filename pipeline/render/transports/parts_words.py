"""What the page on parts says in sentences, and how its numbers read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.reading import Row, Rows
from pipeline.render.words import chance, counted, figure, limits, listed, percent

MOST_TOLD = 3
MOST_REASONS = 12
Values = Mapping[str, Any]


def life_hours(value: float | None) -> str:
    """Head hours to three figures that count; None is "not reached"."""
    return "not reached" if value is None else f"{figure(value)} h"


def share_of(value: Values | None) -> str:
    """A chance or share with its limits in percent, as "62 % (41 to 80)"; "not known" where there is none."""
    if value is None or value["value"] is None:
        return "not known"
    low, high = (percent(value[end]).removesuffix(" %") for end in ("low", "high"))
    return f"{percent(value['value'])} ({low} to {high})"


def price(value: Values) -> str:
    """An age with its limits; None is running to failure."""
    best, low, high = (
        "run to failure" if value[end] is None else figure(value[end]) for end in ("value", "low", "high")
    )
    return best if best == low == high else f"{best} ({low} to {high})"


def answer(found: Values) -> list[str]:
    """The first paragraphs: what wears out, what fails early, what in use is least sure to last, and how sure."""
    kinds = found["kinds"]
    if not kinds:
        return [
            (
                "No fitting of a head or a part is logged that names its kind, so how long parts last is not known. It "
                "would need the events head_fitted and part_fitted, with the serial or the part in their detail."
            )
        ]
    return [*_verdicts(found), *_unlike(found), _stays(kinds[0]), _early(found), _next(found)]


def _verdicts(found: Values) -> list[str]:
    fitted = [kind for kind in found["kinds"] if kind["weibull"]]
    shown = [kind for kind in fitted if kind["verdict"] != "not told"]
    told = [_verdict(kind) for kind in shown[:MOST_TOLD]]
    if len(shown) > MOST_TOLD:
        told.append(f"So it is shown of {counted(len(shown) - MOST_TOLD, 'more kind')}; the table has them all.")
    if not fitted:
        return [
            (
                f"Which kinds wear out cannot be told: of {counted(found['lives_count'], 'life', 'lives')} known from "
                f"their fitting {_failures(found['failures_count'])}, and no kind has the "
                f"{found['least_failures_count']} that are needed."
            )
        ]
    silent = [kind for kind in fitted if kind["verdict"] == "not told"]
    if silent:
        rest = [f"{len(silent) - MOST_TOLD:,} more"] if len(silent) > MOST_TOLD else []
        names = listed([*(_unshown(kind) for kind in silent[:MOST_TOLD]), *rest])
        told.append(f"Not shown to wear out, nor to fail early: {names}.")
    return told


def _unlike(found: Values) -> list[str]:
    """Kinds that do not last alike on all machines, by the adjusted p; nothing where none is shown."""
    kinds = [
        f"{kind['kind']} (adjusted {chance(kind['machines']['adjusted_p'])})"
        for kind in found["kinds"]
        if kind["machines"] and kind["machines"]["adjusted_p"] < found["level"]
    ]
    if not kinds:
        return []
    return [f"Not used up alike on all machines, by more than chance easily gives: {listed(kinds[:MOST_TOLD])}."]


def _stays(kind: Row) -> str:
    """How long the kind with most lives stays in, whatever ends it."""
    stay = kind["removal_h"]
    if stay["median"] is None:
        return f"Fewer than half of the {kind['n']:,} lives of the {kind['kind']} have ended, for whatever reason."
    low, high = (life_hours(stay[end]) for end in ("low", "high"))
    return (
        f"Whatever the reason, half of the {kind['kind']} lives ({kind['n']:,}) have ended by "
        f"{life_hours(stay['median'])} on tape ({low} to {high})."
    )


def _failures(count: int) -> str:
    if not count:
        return "none ended in a failure that a ticket names"
    return f"{count:,} ended in a failure that a ticket names"


def _verdict(kind: Row) -> str:
    shape, adjusted = kind["weibull"]["shape"], kind["weibull"]["adjusted_p"]
    size = (
        f"shape {figure(shape['value'])}, {limits(shape['low'], shape['high'])}, from "
        f"{counted(kind['weibull']['failures_count'], 'failure')}, adjusted {chance(adjusted)}"
    )
    if kind["verdict"] == "wears out":
        b10 = kind["weibull"]["b10_h"]
        return (
            f"The {kind['kind']} wears out ({size}): the longer it has run, the likelier it fails in its next hour. "
            f"One in ten has failed by {life_hours(b10['value'])} on tape ({limits(b10['low'], b10['high'])})."
        )
    return (
        f"The {kind['kind']} fails early ({size}): the longer it has run, the safer it is, so a change by hours puts a "
        "safe part out and a doubtful one in."
    )


def _unshown(kind: Row) -> str:
    weibull = kind["weibull"]
    shape = weibull["shape"]
    return (
        f"{kind['kind']} (shape {figure(shape['value'])}, {limits(shape['low'], shape['high'])}; its "
        f"{counted(weibull['failures_count'], 'failure')} would mostly have told a shape from "
        f"{figure(weibull['told_from'])})"
    )


def _early(found: Values) -> str:
    hours = f"{found['early_h']:g} head hours"
    early = [kind for kind in found["kinds"] if kind["early_h"]["count"]]
    if not early:
        watched = sum(kind["early_h"]["trials_count"] for kind in found["kinds"])
        if not watched:
            return f"No part was seen to run {hours} from its fitting on, so early failures cannot be judged."
        those = f"None of the {watched:,} parts" if watched > 1 else "Not even the one part"
        return f"{those} that ran at least {hours} failed within the first {found['early_h']:g} after fitting."
    parts = [
        f"{kind['kind']} {kind['early_h']['count']:,} of {kind['early_h']['trials_count']:,}, "
        f"{share_of(kind['early_h'])}"
        for kind in early[:MOST_TOLD]
    ]
    return f"Failed within the first {hours} after fitting: {'; '.join(parts)}."


def _next(found: Values) -> str:
    modelled = [row for kind in found["kinds"] for row in kind["running"] if row["basis"] == "weibull"]
    if not modelled:
        return "Which part in use will need replacing first cannot be told from failures; the table gives their hours."
    least = min(modelled, key=lambda row: row["last_100_h"]["value"])
    serial = f" {least['detail']}" if least["kind"] == "head" and least["detail"] else ""
    return (
        f"Of the parts in use, the one least sure to last is the {least['kind']}{serial} in {least['machine']}, at "
        f"{life_hours(least['life_h'])}: its chance to last the next 100 head hours is {share_of(least['last_100_h'])}."
    )


def reading_of_shape(kind: Row) -> str:
    """What the shape of a life says, in words, by its adjusted p."""
    weibull = kind["weibull"]
    if kind["verdict"] == "wears out":
        return "wears out"
    if kind["verdict"] == "fails early":
        return "fails early: run to failure"
    side = "above 1" if weibull["shape"]["value"] > 1.0 else "at or below 1"
    return f"{side}, not told from chance: run to failure until shown otherwise"


def why_no_fit(kinds: Rows) -> str:
    """Why the other kinds have no Weibull life, a reason and its kinds at a time; empty where all have one."""
    reasons: dict[str, list[str]] = {}
    for kind in kinds:
        if kind["weibull_why"]:
            reasons.setdefault(kind["weibull_why"], []).append(kind["kind"])
    told = [f"{_some(names)} ({reason})" for reason, names in reasons.items()]
    return f"No Weibull life is fitted to {'; '.join(told)}." if told else ""


def _some(names: list[str]) -> str:
    rest = len(names) - MOST_REASONS
    return listed([*names[:MOST_REASONS], *([f"{rest:,} more kinds"] if rest > 0 else [])])


def not_known(found: Values) -> tuple[str, ...]:
    """The sentences of the section on what is not known."""
    kinds = found["kinds"]
    before = sum(kind["machines_count"] for kind in kinds)
    unclear = sum(kind["unclear_count"] for kind in kinds)
    again = sum(kind["fitted_again_count"] for kind in kinds)
    lines = []
    if before:
        lines.append(
            f"How long {counted(before, 'part')} lasted that were in a machine when the first of their kind was fitted "
            "in these data: when they went in is not recorded, so they are left out."
        )
    if found["nameless_count"]:
        lines.append(
            f"Which life began at {counted(found['nameless_count'], 'fitting')}: the line names no kind of part, or "
            "another of its kind went in at the same instant."
        )
    if unclear:
        lines.append(
            f"Whether {counted(unclear, 'part')} had failed: taken out within {found['ticket_window_h']:g} h of "
            "a ticket on the machine that names something else. They count as taken out."
        )
    if again:
        lines.append(f"Whether {counted(again, 'head')} fitted before under the same serial were as good as new.")
    lines += [
        "Failures that nobody wrote a ticket for: they count as taken out, and lives then read too long.",
        "Head hours while a machine's log is missing: they are not in these lives, which then read too short.",
    ]
    if kinds and not found["has_costs"]:
        lines.append("At what age a planned change costs least: site.toml states no prices under [costs.parts].")
    return tuple(lines)
