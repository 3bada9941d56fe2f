"""The sentences that open a month's page, meant to be read aloud; each is built from the figures of the month."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup, escape

from pipeline.render.language import say
from pipeline.render.month_comparison import comparison_sentence
from pipeline.render.page_words import unbroken
from pipeline.render.sheet import incident_page
from pipeline.render.words import (
    Local,
    capital,
    continuity,
    duration,
    figure,
    hours,
    listed,
    month_name,
    needed,
    percent,
    share,
    spoken,
    times,
)

Figures = Mapping[str, Any]


def opening(month: Figures, compared: Figures, worst: Figures | None, local: Local) -> list[Markup]:
    """The paragraphs: air and loss, switches against the room's past, protection, demands, what is not known.

    ``month`` is the month's FIGURES, ``compared`` its row of ``compare_months``, ``worst`` the interruption that lost
    most (started_at_utc, lost_s, channel, machine, incident) or None; its incident is linked. Kept short, for it is
    read aloud: limits and p stand in the tables. Numbers and their units are not parted by a line's end.
    """
    if month["air_s"] <= 0:
        return [_kept(say("No air time was booked in {month}.", month=month_name(month["month"])))]
    rest = f"{stood_in_sentence(month)} {continuity_sentence(month)}".strip()
    return [
        Markup(" ").join((_kept(air_sentence(month)), _kept(loss_sentence(month, worst, local)), _kept(rest))),
        _kept(f"{switch_sentence(month)} {comparison_sentence(month, compared)}"),
        _kept(unprotected_sentence(month)),
        _kept(demand_sentence(month, compared["demands_met"])),
        _kept(unknown_sentence(month)),
    ]


def _kept(text: str) -> Markup:
    """The text safe for a page, with no-break spaces before units; no address holds a number and a unit."""
    return Markup(unbroken(str(escape(text))))  # noqa: S704 - escaped


def air_sentence(month: Figures) -> str:
    """How long the room was on air."""
    return say(
        "In {month} the room was on air for {hours}.", month=month_name(month["month"]), hours=hours(month["air_s"])
    )


def loss_sentence(month: Figures, worst: Figures | None, local: Local) -> Markup:
    """What was lost, and the worst of it, which leads to its incident."""
    if not month["interruptions"] or worst is None:
        none = say("No interruption began in it.")
        if not month["lost_s"]:
            return escape(none)
        lost = capital(duration(month["lost_s"]))
        return escape(f"{none} {say('{lost} belongs to an interruption of the month before.', lost=lost)}")
    # A loss may reach over the month's end, so what the month lost is not said to be that of its interruptions.
    values = {
        "lost": duration(month["lost_s"]),
        "event": _place_of(worst, local),
        "worst": duration(worst["lost_s"]),
        "interruptions": spoken(month["interruptions"], "interruption"),
    }
    if month["interruptions"] == 1:
        return Markup(say("It lost {lost} and had one interruption: {event}.", **values))  # noqa: S704 - all escaped
    return Markup(  # noqa: S704 - the only value that is not ours is the event, and it is markup
        say("It lost {lost}; {interruptions} began in it, and the worst lost {worst}: {event}.", **values)
    )


def _place_of(worst: Figures, local: Local) -> Markup:
    """Where and when, as a link; with the machine that fed."""
    day, wall = local.date(worst["started_at_utc"]), local.wall(worst["started_at_utc"])
    values = {"channel": worst["channel"], "machine": worst["machine"], "day": day, "time": f"{wall:%H:%M}"}
    words = (
        say("channel {channel}, {day} at {time}, with {machine} on air", **values)
        if worst["machine"]
        else say("channel {channel}, {day} at {time}, with the selector on standby", **values)
    )
    return Markup('<a href="{}">{}</a>').format(incident_page(worst["incident"]), words)


def stood_in_sentence(month: Figures) -> str:
    """How long another source stood in, which is no air time; empty where none did."""
    if not month["rescued_s"]:
        return ""
    return say("For {time} more a source not of this room stood in.", time=duration(month["rescued_s"]))


def rescue_sentence(month: Figures) -> str:
    """How long another source stood in, with a space before it; empty where none did."""
    if not month["rescued_s"]:
        return ""
    return " " + say(
        "For another {time}, which is no air time, a source not of this room stood in for it.",
        time=duration(month["rescued_s"]),
    )


def continuity_sentence(month: Figures) -> str:
    """Continuity, and what it would be if nothing were good that is not known."""
    if month["continuity"] is None:
        return say("Nothing is known of any of its air time, so there is no continuity to give.")
    value = continuity(month["continuity"])
    if not month["unknown_s"]:
        return say("Continuity of logged programme was {value}.", value=value)
    low = continuity(month["continuity_low"])
    return say("Continuity of logged programme was {value}, at worst {low}.", value=value, low=low)


def switch_sentence(month: Figures) -> str:
    """The protect switches, their three kinds apart."""
    rate = month["protect_switches_per_1000_air_h"]
    if not month["protect_switches"]:
        return say(
            "There were no protect switches; the time rules out no rate below {high} per 1,000 air h.",
            high=figure(rate["high"]),
        )
    kinds = {name: month[name] for name in ("forced", "precaution", "unexplained")}
    counted = spoken(month["protect_switches"], "protect switch", "protect switches")
    if month["protect_switches"] == 1:
        return say(
            "There was {switches} ({forced} forced, {precaution} as a precaution, {unexplained} unexplained).",
            switches=counted, **kinds,
        )  # fmt: skip
    return say(
        "There were {switches} ({forced} forced, {precaution} as a precaution, {unexplained} unexplained).",
        switches=counted, **kinds,
    )  # fmt: skip


def unprotected_sentence(month: Figures) -> str:
    """How long good air had no cover that can be shown, and why."""
    bare = month["exposed_s"] + month["unproved_s"]
    if bare <= 0:
        return say("Good air was covered throughout: {hours}.", hours=hours(month["covered_s"]))
    return say(
        "Good air was unprotected for {hours}, {share} of air time: {reasons}.",
        hours=hours(bare), share=share(bare, month["air_s"]), reasons=listed(_reasons(month)),
    )  # fmt: skip


def _reasons(month: Figures) -> list[str]:
    told = {
        "exposed_none_booked_s": say("{hours} no protect booked", hours=hours(month["exposed_none_booked_s"])),
        "exposed_not_good_s": say("{hours} protect not good", hours=hours(month["exposed_not_good_s"])),
        "exposed_out_of_step_s": say("{hours} out of step", hours=hours(month["exposed_out_of_step_s"])),
        "unproved_s": say("{hours} not proved in step", hours=hours(month["unproved_s"])),
    }
    return [words for name, words in told.items() if month[name] > 0]


def demand_sentence(month: Figures, met: Figures) -> str:
    """Whether protect worked when it was needed."""
    if not month["demands"]:
        return say("Protect was never needed.")
    text = say(
        "Protect was {needed} ({share}).",
        needed=needed(month["demands"], month["demands_met"]), share=percent(met["ratio"]),
    )  # fmt: skip
    rest = unmet(month)
    if month["demands_unprotected"]:
        rest += " " + say("{times} none was there.", times=capital(times(month["demands_unprotected"])))
    return f"{text} {rest}".rstrip()


def unmet(group: Figures) -> str:
    """What became of the demands that protect did not meet: healed and failed apart; empty where all were met."""
    failed = group["demands"] - group["demands_met"] - group["demands_healed"]
    ways = [
        words
        for count, words in (
            (group["demands_healed"], say("air came back by itself {times}", times=times(group["demands_healed"]))),
            (failed, say("protect failed {times}", times=times(failed))),
        )
        if count
    ]
    return f"{capital(listed(ways))}." if ways else ""


def unknown_sentence(month: Figures) -> str:
    """How much of the air time nothing is known of."""
    if not month["unknown_s"]:
        return say("The logs say something of every second of air time.")
    return say(
        "Nothing is known of {hours}, {share} of air time.",
        hours=hours(month["unknown_s"]), share=share(month["unknown_s"], month["air_s"]),
    )  # fmt: skip
