"""What the year ahead says in sentences: never more sure than the figures are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import SOURCE, decimal, localised, say, spoken_language, whole
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.words import SMALL, chance, counted, duration, figure, listed, spoken

FEW = 6  # names in a sentence
WEEK_H = 168.0
HOUR_S, MINUTE_S = 3600.0, 60.0


def answers(found: Mapping[str, Any]) -> list[str]:
    """Who gets worse, what to expect, how well such forecasts did, and what these hours could have shown."""
    if not found["machines"]:
        return [say("No machine has fed air in these data, so there is nothing to look ahead from.")]
    lines = [*_named(found), _year(found)]
    if found["replay"] is not None:
        lines.append(tried(found["replay"]))
    return [*lines, _could_show(found)]


def _named(found: Mapping[str, Any]) -> list[str]:
    lines = [call(row, found) for row in found["machines"] if row["is_named"]]
    if found["room"]["trend"]["is_named"]:
        lines.append(say("The room as a whole {changes}.", changes=_changes(found["room"]["trend"])))
    if lines:
        return lines
    tests, days = counted(found["tests_count"], "test"), decimal(found["span_h"] / 24, 0)
    if found["warning"]:
        text = say(
            "No machine is seen to get worse with its hours in this record of {days} days: of {tests} of trends and of "
            "leading signs none stands out, and no running sum of protect switches has alarmed.",
            days=days,
            tests=tests,
        )
        return [text]
    text = say(
        "No machine is seen to get worse with its hours in this record of {days} days: of {tests} of trends and of "
        "leading signs none stands out.",
        days=days,
        tests=tests,
    )
    return [text]


def call(row: Mapping[str, Any], found: Mapping[str, Any]) -> str:
    """Why a machine is named, in a sentence."""
    why = []
    if row["trend"]["is_named"]:
        why.append(_changes(row["trend"]))
    if row["warning"]["is_alarm"]:
        why.append(_alarm(row["warning"]["alarm_week"], found["alarm_chance"]))
    why += [_creeps(name, row["warning"][name]["test"]) for name in row["creeping"]]
    return say("{machine} stands out: it {reasons}.", machine=row["machine"], reasons=listed(why))


def _alarm(week: str | None, level: float) -> str:
    records = plain(level * 100)
    if week:
        return say(
            "set off the running sum in the week of {week}: it had more protect switches, against the room's rate, "
            "than luck gives any machine of such a room in all but {records} % of records",
            week=week,
            records=records,
        )
    return say(
        "set off the running sum: it had more protect switches, against the room's rate, than luck gives any machine "
        "of such a room in all but {records} % of records",
        records=records,
    )


def _creeps(sign: str, test: Mapping[str, Any]) -> str:
    p = chance(test["adjusted_p"])
    if sign == "lock":
        if test["tau"] > 0:
            return say("has a time to lock that rises (adjusted {p})", p=p)
        return say("has a time to lock that falls (adjusted {p})", p=p)
    if test["tau"] > 0:
        return say("has a first offset after a start that rises (adjusted {p})", p=p)
    return say("has a first offset after a start that falls (adjusted {p})", p=p)


def _changes(trend: Mapping[str, Any]) -> str:
    sure = say("adjusted {p}", p=chance(min(trend[name]["adjusted_p"] for name in ("laplace", "handbook"))))
    if trend["beta"] is not None:
        sure = say("{p}; exponent {exponent}", p=sure, exponent=figure(trend["beta"]["value"]))
    if trend["direction"] == "worse":
        return say("switches to protect more and more often as its hours add up ({sure})", sure=sure)
    return say("switches to protect less and less often as its hours add up ({sure})", sure=sure)


def _year(found: Mapping[str, Any]) -> str:
    room = found["room"]
    if found["refused"] is not None:
        return say("No forecast is made: {why}.", why=refusal(found))
    if room["switches"] is None:
        return say("No forecast is made: every machine that fed air is retired.")
    switches, lost = room["switches"], room["lost_s"]
    start = say(
        "If the room's machines are kept at their present hours, {hours} h on air a year, and nothing changes, expect "
        "about {mean} protect switches in the next twelve months ({low} to {high}, 95 % limits)",
        hours=figure(room["air_h_per_year"]),
        mean=rough(switches["mean"]),
        low=whole(switches["low"]),
        high=whole(switches["high"]),
    )
    changing = [row["machine"] for row in found["machines"] if row["basis"] == "changing"]
    if changing:
        taken = say(
            "(with the rate of {machines} taken as steady too, which it is not)", machines=listed(changing[:FEW])
        )
        start = f"{start} {taken}"
    if lost["low"] is None:
        return say("{expected}. Too few protect switches are logged to say what they would lose.", expected=start)
    return say(
        "{expected} and about {lost} with them. The largest single loss with a switch so far was {largest}; one larger "
        "than any seen is not in these limits.",
        expected=start,
        lost=_lost(lost),
        largest=duration(found["losses"]["largest_s"]),
    )


def refusal(found: Mapping[str, Any]) -> str:
    """Why no year is told: the words of the part ``refused`` of the figures, in the language in force."""
    if not found["machines"]:
        return say("no machine has fed air")
    days = decimal(found["span_h"] / 24, 0)
    return say("the record spans {days} days, and a year is not told from less than six weeks", days=days)


def _lost(lost: Mapping[str, float]) -> str:
    """Time lost and its limits in one unit, in round figures: "28 minutes of air lost (17 to 44)"."""
    unit = next((seconds for seconds in (HOUR_S, MINUTE_S) if lost["mean"] >= 2 * seconds), 1.0)
    mean, low, high = (rough(lost[end] / unit) for end in ("mean", "low", "high"))
    if unit == HOUR_S:
        return say("{mean} hours of air lost ({low} to {high})", mean=mean, low=low, high=high)
    if unit == MINUTE_S:
        return say("{mean} minutes of air lost ({low} to {high})", mean=mean, low=low, high=high)
    return say("{mean} seconds of air lost ({low} to {high})", mean=mean, low=low, high=high)


def rough(value: float) -> str:
    """A number as it is spoken: 4.81 is "five", 272 is "270"; below three it keeps a decimal."""
    if value < 0.95:
        return figure(value)
    if value < 2.95:
        return decimal(value, 1)
    if round(value) < len(SMALL):
        return _small(round(value))
    step = 10 ** max(0, len(str(round(value))) - 2)
    return whole(round(value / step) * step)


def _small(count: int) -> str:
    """A count up to twelve, in English in a word."""
    return SMALL[count] if count < len(SMALL) and spoken_language().tag == SOURCE else whole(count)


def tried(replay: Mapping[str, Any]) -> str:
    """How the same rule did on this record."""
    rows, room = replay["machines"], replay["room"]
    if not rows:
        return say("The rule could not be tried on this record: no machine fed air both before and after its cut.")
    counts = {
        "machines": spoken(len(rows), "machine"),
        "inside": _small(replay["inside_count"]) if replay["inside_count"] else say("none", about="machines"),
        "least": localised(f"{replay['confidence'] * len(rows):.3g}"),
        "came": whole(room["came_count"]),
        "low": whole(room["low"]),
        "high": whole(room["high"]),
    }
    if room["is_inside"]:
        return say(
            "Tried on this record itself, fitted on its first two thirds and held against the rest: of {machines} "
            "{inside} fell inside the limits, where at least {least} are expected, and the room's {came} protect "
            "switches were inside the limits of {low} to {high}.",
            **counts,
        )
    return say(
        "Tried on this record itself, fitted on its first two thirds and held against the rest: of {machines} {inside} "
        "fell inside the limits, where at least {least} are expected, and the room's {came} protect switches were "
        "outside the limits of {low} to {high}.",
        **counts,
    )


def _could_show(found: Mapping[str, Any]) -> str:
    text = _would_name(found["room"])
    run = found["warning"] and found["warning"]["run_length_out_of_control_weeks"]
    if not run:
        return f"{text}."
    if run * WEEK_H > found["span_h"]:
        return say(
            "{text}; one that doubled the room's rate sets off the running sum after about {weeks} weeks on average, "
            "longer than this record.",
            text=text,
            weeks=rough(run),
        )
    return say(
        "{text}; one that doubled the room's rate sets off the running sum after about {weeks} weeks on average.",
        text=text,
        weeks=rough(run),
    )


def _would_name(room: Mapping[str, Any]) -> str:
    growth, switches = (
        room["growth_found"]["machine"],
        spoken(room["typical_count"], "protect switch", "protect switches"),
    )
    if growth is None:
        return say(
            "With {switches}, as the middle machine has, a wearing machine cannot be told from a steady one",
            switches=switches,
        )
    return say(
        "With {switches}, as the middle machine has, only a machine that had come to switch about {growth} times as "
        "often as on its own average would have been named (four times of five)",
        switches=switches,
        growth=rough(growth),
    )
