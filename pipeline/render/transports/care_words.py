"""What the page on care says in sentences: what was found, how sure, and what these hours could not have shown."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pipeline.render.words import capital, chance, counted, duration, figure, hours, limits, listed, share

HOUR = 3600.0
RARE = 0.05  # of the uses; care left out in fewer was hardly ever left out
MOST_TOLD = 5.0  # a ratio above it is nothing that a reader could act on
TITLES = {"clean": "cleaning", "lineup": "line-up", "warm_up": "warm-up", "head": "age of the head"}
WITHOUT = {
    "clean": "without cleaning", "lineup": "without line-up", "warm_up": "after less warm-up",
    "head": "on an older head",
}  # fmt: skip
DONE = {"clean": ("Cleaned", "cleaning"), "lineup": ("Lined up", "line-up")}
WATCHED = (
    "This is watching and not an experiment: a machine in trouble is given more care, so care may look harmful where "
    "it helps, and where everybody always gives it nothing is left to compare."
)
NOTHING = (
    "No machine is known to have rolled for a transmission, so there is no care to compare. It would take event logs "
    "with rolls, and bookings of the same machines."
)
UNPAIRED = "Nothing can be compared: no machine has hours both with and without the same care, and an event in them."
Found = Mapping[str, Any]


def told(found: Found) -> list[str]:
    """The opening: the answer, how often care was given, what could have been found, and the caution."""
    if not found["uses_count"]:
        return [NOTHING]
    return [*_answers(found), *_adherence(found), *_could_show(found), WATCHED]


def groups(found: Found) -> dict[str, tuple[str, str]]:
    """The words of less and of more care for every item."""
    warm = duration(found["cuts"]["warm_up_s"])
    cut = found["cuts"]["head_h"]
    head = "the middle of the room" if cut is None else hours(cut * HOUR)
    return {
        "clean": ("not cleaned before", "cleaned before"),
        "lineup": ("not lined up before", "lined up before"),
        "warm_up": (f"heard for less than {warm} before", f"heard for {warm} or more before"),
        "head": (f"on a head with more than {head}", f"on a head with at most {head}"),
    }


def _answers(found: Found) -> list[str]:
    named = [row for row in found["items"] if row["is_named"]]
    if named:
        return [_named(row, groups(found)[row["item"]]) for row in named]
    if not found["tests_count"]:
        return [UNPAIRED]
    size = f"{counted(found['events_count'], 'event')} in {counted(found['uses_count'], 'use')}"
    answer = (
        "No kind of care stands out: on the same machines, uses with less of it had neither more nor fewer events per "
        f"hour than luck easily gives ({size}, {hours(found['duty_h'] * HOUR)} due)."
    )
    return [answer]


def _named(row: Found, words: tuple[str, str]) -> str:
    value = number(row["adjusted"]["value"])
    is_more = row["adjusted"]["value"] is None or row["adjusted"]["value"] > 1
    verdict = (
        "more with less care" if is_more else "fewer with less care, which may only say that care goes where trouble is"
    )
    return (
        f"On the same machines, uses {words[0]} had {value} times the events per hour of those {words[1]} "
        f"(limits {_limits(row['adjusted'])}, adjusted {chance(row['adjusted_p'])}): {verdict}."
    )


def _adherence(found: Found) -> list[str]:
    lines = []
    for kind, (done, noun) in DONE.items():
        row = found["adherence"]["room"][kind]
        if not row["known_count"]:
            lines.append(f"No machine logs {noun}, so whether it was done is not recorded.")
            continue
        lines.append(
            f"{done} before the use: {row['count']:,} of {row['known_count']:,}, {share_text(row)}."
            + (" Where it is always done, its effect cannot be seen." if row["value"] == 1 else "")
        )
    return [" ".join(lines)]


def _could_show(found: Found) -> list[str]:
    rows = [row for row in found["items"] if row["p"] is not None]
    shown = [row for row in rows if row["could_show_ratio"] is not None]
    if not shown:
        return ["These hours could have shown no difference, however large."] if rows else []
    told = [row for row in shown if row["could_show_ratio"] <= MOST_TOLD]
    parts = [f"{figure(row['could_show_ratio'])} times as high {WITHOUT[row['item']]}" for row in told]
    lines = []
    if parts:
        lines.append(
            f"Four times in five these hours would have shown a rate that is at least {listed(parts)}. Smaller "
            "differences would mostly have stayed unseen."
        )
    always = [row for row in shown if row not in told and _is_rare(row)]
    if always:
        lines.append(_hardly_ever(always))
    scarce = [TITLES[row["item"]] for row in shown if row not in told and row not in always]
    if scarce:
        lines.append(
            f"Of {listed(scarce)} next to nothing can be said: these hours could not show even {MOST_TOLD:.0f} times "
            "the rate."
        )
    return [" ".join(lines)]


def _is_rare(row: Found) -> bool:
    """Whether a care that is done or not was hardly ever left out; warm-up and heads are parted by a cut instead."""
    known = row["less"]["uses_count"] + row["more"]["uses_count"]
    return row["item"] in DONE and row["less"]["uses_count"] < RARE * known


def _hardly_ever(rows: list[Found]) -> str:
    """Such as "Cleaning and line-up were hardly ever left out (2 and 10 of 1,498 uses), so ..."."""
    names = capital(listed([TITLES[row["item"]] for row in rows]))
    left, known = ([sum(row[one]["uses_count"] for one in of) for row in rows] for of in (("less",), ("less", "more")))
    sizes = [f"{part:,} of {whole:,}" for part, whole in zip(left, known, strict=True)]
    if len(set(known)) == 1:
        sizes = [f"{listed([f'{part:,}' for part in left])} of {known[0]:,}"]
    were, their = ("was", "its") if len(rows) == 1 else ("were", "their")
    return f"{names} {were} hardly ever left out ({listed(sizes)} uses), so {their} effect cannot be seen."


def number(value: float | None) -> str:
    """A ratio; None is one without limit."""
    return figure(math.inf if value is None else value)


def _limits(row: Found) -> str:
    return f"{figure(row['low'])} or more" if row["high"] is None else limits(row["low"], row["high"])


def ratio_text(row: Found | None, without: str = "n/a") -> str:
    """A ratio and its limits, such as "2.00 (0.93 to 4.02)" or "without limit (1.20 or more)"."""
    return without if row is None else f"{number(row['value'])} ({_limits(row)})"


def share_text(row: Found) -> str:
    """A share and its limits, such as "99.5 % (97.1 to 100.0 %)"."""
    if not row["known_count"]:
        return "not recorded"
    return f"{share(row['count'], row['known_count'])} ({100 * row['low']:.1f} to {100 * row['high']:.1f} %)"


def not_known(found: Found) -> tuple[str, ...]:
    """What is not recorded, item by item, and what stands outside."""
    lines = []
    for row in found["items"]:
        lacking = row["not_recorded"]
        if lacking["uses_count"]:
            lines.append(
                f"{TITLES[row['item']].capitalize()} of {counted(lacking['uses_count'], 'use')} with "
                f"{hours(lacking['duty_h'] * HOUR)} due and {counted(lacking['events_count'], 'event')}: not recorded, "
                "and compared with nothing."
            )
    silent = [
        f"{DONE[kind][1]} of {counted(count, 'machine')}"
        for kind in DONE
        if (count := sum(not one[kind]["known_count"] for one in found["adherence"]["machines"]))
    ]
    if silent:
        lines.append(f"Never logged: {listed(silent)}. That is not recorded, which is not the same as not done.")
    if found["events_outside_count"]:
        lines.append(
            f"{counted(found['events_outside_count'], 'event')} on standby, or of a machine not known to have rolled "
            "for that transmission: no use, so no care."
        )
    return (*lines, "Care that nobody logged, and how well it was done.")
