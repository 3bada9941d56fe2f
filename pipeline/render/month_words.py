"""The sentences that open a month's page, meant to be read aloud; each is built from the figures of the month."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.words import (
    Local,
    capital,
    chance,
    continuity,
    duration,
    figure,
    hours,
    limits,
    listed,
    month_name,
    needed,
    percent,
    share,
    spoken,
    times,
)

Figures = Mapping[str, Any]
EASILY = 0.05  # the usual line between what chance gives easily and what it gives seldom


def opening(month: Figures, compared: Figures, worst: Mapping[str, Any] | None, local: Local) -> list[str]:
    """The paragraphs: air and loss, switches against the other months, protection, demands, what is not known.

    ``month`` is the month's FIGURES, ``compared`` its row of ``compare_months``, ``worst`` the interruption that lost
    most (started_at_utc, lost_s, channel, machine) or None.
    """
    if month["air_s"] <= 0:
        return [f"No air time was booked in {month_name(month['month'])}."]
    return [
        f"{air_sentence(month)} {loss_sentence(month, worst, local)} {continuity_sentence(month)}",
        f"{switch_sentence(month)} {comparison_sentence(compared)}",
        unprotected_sentence(month),
        demand_sentence(month, compared["demands_met"]),
        unknown_sentence(month),
    ]


def air_sentence(month: Figures) -> str:
    """How long the room was on air."""
    return f"In {month_name(month['month'])} the room was on air for {hours(month['air_s'])}."


def loss_sentence(month: Figures, worst: Mapping[str, Any] | None, local: Local) -> str:
    """What was lost, and the worst of it."""
    away = rescue_sentence(month)
    if not month["interruptions"] or worst is None:
        rest = (
            f" {capital(duration(month['lost_s']))} belongs to an interruption of the month before."
            if month["lost_s"]
            else ""
        )
        return f"No interruption began in it.{rest}{away}"
    # A loss may reach over the month's end, so what the month lost is not said to be that of its interruptions.
    lost = f"It lost {duration(month['lost_s'])}; {spoken(month['interruptions'], 'interruption')} began in it"
    source = f"with {worst['machine']} on air" if worst["machine"] else "with the selector on standby"
    if month["interruptions"] == 1:
        return f"{lost}, on channel {worst['channel']}, {local.about(worst['started_at_utc'])}, {source}.{away}"
    return (
        f"{lost}, and the worst lost {duration(worst['lost_s'])} on channel {worst['channel']}, "
        f"{local.about(worst['started_at_utc'])}, {source}.{away}"
    )


def rescue_sentence(month: Figures) -> str:
    """How long another source stood in, with a space before it; empty where none did."""
    if not month["rescued_s"]:
        return ""
    return (
        f" For another {duration(month['rescued_s'])}, which is no air time, a source not of this room stood in for it."
    )


def continuity_sentence(month: Figures) -> str:
    """Continuity with its bounds."""
    if month["continuity"] is None:
        return "Nothing is known of any of its air time, so there is no continuity to give."
    if not month["unknown_s"]:
        return f"Continuity of logged programme was {continuity(month['continuity'])}."
    return (
        f"Continuity of logged programme was {continuity(month['continuity'])}; it may lie anywhere from "
        f"{continuity(month['continuity_low'])} to {continuity(month['continuity_high'])}, "
        "by what happened in the time not known."
    )


def switch_sentence(month: Figures) -> str:
    """The protect switches, their three kinds apart, and their rate."""
    rate = month["protect_switches_per_1000_air_h"]
    per = f"{figure(rate['value'])} per 1,000 air h, exact 95 % limits {limits(rate['low'], rate['high'])}"
    if not month["protect_switches"]:
        return (
            f"There were no protect switches; the time rules out no rate below {figure(rate['high'])} per 1,000 air h."
        )
    kinds = f"{month['forced']} forced, {month['precaution']} as a precaution, {month['unexplained']} unexplained"
    verb = "was" if month["protect_switches"] == 1 else "were"
    return f"There {verb} {spoken(month['protect_switches'], 'protect switch', 'protect switches')} ({kinds}): {per}."


def comparison_sentence(compared: Figures) -> str:
    """The month's rate against the room's other months and the month before, chance allowed for."""
    others = compared["others"]
    if others is None:
        return "There is no other month of this room to compare it with."
    text = (
        f"The room's other months together had {figure(others['value'])} per 1,000 air h "
        f"({others['count']:,} in {hours(others['air_s'])}). {verdict(others, 'This month', 'theirs')}"
    )
    if others["p"] < EASILY and "adjusted_p" in others:
        text += f" Allowing for the number of months compared: {chance(others['adjusted_p'])}."
    before = compared["before"]
    if before is None or before["air_s"] == others["air_s"]:
        return text
    return f"{text} {verdict(before, 'It', 'that of the month before')}"


def verdict(row: Figures, this: str, that: str) -> str:
    """What a comparison of two rates says, as a sentence: ``this`` month's rate in terms of ``that`` one."""
    if row["ratio"] is None and row["low"] == 0:
        return "With no protect switch in either, nothing can be said of a difference."
    if row["ratio"] is None:
        times_words = f"{this} had at least {figure(row['low'])} times {that} ({chance(row['p'])})"
    else:
        high = "without limit" if row["high"] is None else figure(row["high"])
        range_words = f"limits {figure(row['low'])} to {high}, {chance(row['p'])}"
        times_words = f"{this} had {figure(row['ratio'])} times {that} ({range_words})"
    if row["p"] < EASILY:
        return f"{times_words}, a difference that chance alone would seldom give."
    return f"{times_words}, a difference that chance alone gives easily."


def unprotected_sentence(month: Figures) -> str:
    """How long good air had no cover that can be shown, and why."""
    bare = month["exposed_s"] + month["unproved_s"]
    if bare <= 0:
        return f"Good air was covered throughout: {hours(month['covered_s'])}."
    reasons = [
        f"{hours(month[name])} {words}"
        for name, words in (
            ("exposed_none_booked_s", "with no protect booked"),
            ("exposed_not_good_s", "with protect not good"),
            ("exposed_out_of_step_s", "with protect out of step"),
            ("unproved_s", "with a protect that nothing proved in step"),
        )
        if month[name] > 0
    ]
    return (
        f"Good air was covered for {hours(month['covered_s'])} and unprotected for {hours(bare)} "
        f"({share(bare, month['air_s'])} of air time): {listed(reasons)}."
    )


def demand_sentence(month: Figures, met: Figures) -> str:
    """Whether protect worked when it was needed."""
    asked = month["demands"]
    if not asked:
        return "Protect was never needed."
    range_words = f"exact 95 % limits {percent(met['low'])} to {percent(met['high'])}"
    text = f"Protect was {needed(asked, month['demands_met'])} ({percent(met['ratio'])}, {range_words})."
    rest = unmet(month)
    if month["demands_unprotected"]:
        rest += f" {capital(times(month['demands_unprotected']))} no protect was there at all (counted among these)."
    return f"{text} {rest}".rstrip()


def unmet(group: Figures) -> str:
    """What became of the demands that protect did not meet: healed and failed apart; empty where all were met."""
    failed = group["demands"] - group["demands_met"] - group["demands_healed"]
    ways = [
        f"{words} {times(count)}"
        for words, count in (("air came back by itself", group["demands_healed"]), ("protect failed", failed))
        if count
    ]
    return f"{capital(listed(ways))}." if ways else ""


def unknown_sentence(month: Figures) -> str:
    """How much of the air time nothing is known of."""
    if not month["unknown_s"]:
        return "The logs say something of every second of air time."
    return f"Nothing is known of {hours(month['unknown_s'])} ({share(month['unknown_s'], month['air_s'])} of air time)."
