"""What the year ahead says in sentences: never more sure than the figures are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.words import SMALL, chance, counted, duration, figure, listed, spoken

FEW = 6  # names in a sentence
WEEK_H = 168.0
UNITS = (("hours", 3600.0), ("minutes", 60.0), ("seconds", 1.0))
SIGN_NAMES = {"lock": "time to lock", "offset": "first offset after a start"}


def answers(found: Mapping[str, Any]) -> list[str]:
    """Who gets worse, what to expect, how well such forecasts did, and what these hours could have shown."""
    if not found["machines"]:
        return ["No machine has fed air in these data, so there is nothing to look ahead from."]
    lines = [*_named(found), _year(found)]
    if found["replay"] is not None:
        lines.append(tried(found["replay"]))
    return [*lines, _could_show(found)]


def _named(found: Mapping[str, Any]) -> list[str]:
    lines = [call(row, found) for row in found["machines"] if row["is_named"]]
    if found["room"]["trend"]["is_named"]:
        lines.append(f"The room as a whole {_changes(found['room']['trend'])}.")
    if lines:
        return lines
    looked = f"of {counted(found['tests_count'], 'test')} of trends and of leading signs none stands out"
    alarms = ", and no running sum of protect switches has alarmed" if found["warning"] else ""
    days = f"{found['span_h'] / 24:,.0f} days"
    return [f"No machine is seen to get worse with its hours in this record of {days}: {looked}{alarms}."]


def call(row: Mapping[str, Any], found: Mapping[str, Any]) -> str:
    """Why a machine is named, in a sentence."""
    why = []
    if row["trend"]["is_named"]:
        why.append(_changes(row["trend"]))
    if row["warning"]["is_alarm"]:
        week = row["warning"]["alarm_week"]
        since = f" in the week of {week}" if week else ""
        why.append(
            f"set off the running sum{since}: it had more protect switches, against the room's rate, than luck gives "
            f"any machine of such a room in all but {found['alarm_chance'] * 100:g} % of records"
        )
    for name in row["creeping"]:
        sign = row["warning"][name]
        direction = "rises" if sign["test"]["tau"] > 0 else "falls"
        why.append(f"has a {SIGN_NAMES[name]} that {direction} (adjusted {chance(sign['test']['adjusted_p'])})")
    return f"{row['machine']} stands out: it {listed(why)}."


def _changes(trend: Mapping[str, Any]) -> str:
    least = min(trend[name]["adjusted_p"] for name in ("laplace", "handbook"))
    worse = "more and more" if trend["direction"] == "worse" else "less and less"
    beta = "" if trend["beta"] is None else f"; exponent {figure(trend['beta']['value'])}"
    return f"switches to protect {worse} often as its hours add up (adjusted {chance(least)}{beta})"


def _year(found: Mapping[str, Any]) -> str:
    room = found["room"]
    if found["refused"] is not None:
        return f"No forecast is made: {found['refused']}."
    if room["switches"] is None:
        return "No forecast is made: every machine that fed air is retired."
    switches, lost = room["switches"], room["lost_s"]
    start = (
        f"If the room's machines are kept at their present hours, {figure(room['air_h_per_year'])} h on air a year, "
        f"and nothing changes, expect about {rough(switches['mean'])} protect switches in the next twelve months "
        f"({switches['low']:,} to {switches['high']:,}, 95 % limits)"
    )
    changing = [row["machine"] for row in found["machines"] if row["basis"] == "changing"]
    if changing:
        start += f" (with the rate of {listed(changing[:FEW])} taken as steady too, which it is not)"
    if lost["low"] is None:
        return f"{start}. Too few protect switches are logged to say what they would lose."
    return (
        f"{start} and about {_lost(lost)} with them. The largest single loss with a switch so far was "
        f"{duration(found['losses']['largest_s'])}; one larger than any seen is not in these limits."
    )


def _lost(lost: Mapping[str, float]) -> str:
    """Time lost and its limits in one unit, in round figures: "28 minutes of air lost (17 to 44)"."""
    unit, seconds = next((one for one in UNITS if lost["mean"] >= 2 * one[1]), UNITS[-1])
    mean, low, high = (rough(lost[end] / seconds) for end in ("mean", "low", "high"))
    return f"{mean} {unit} of air lost ({low} to {high})"


def rough(value: float) -> str:
    """A number as it is spoken: 4.81 is "five", 272 is "270"; below three it keeps a decimal."""
    if value < 0.95:
        return figure(value)
    if value < 2.95:
        return f"{value:.1f}"
    if round(value) < len(SMALL):
        return SMALL[round(value)]
    step = 10 ** max(0, len(str(round(value))) - 2)
    return f"{round(value / step) * step:,}"


def tried(replay: Mapping[str, Any]) -> str:
    """How the same rule did on this record."""
    rows, room = replay["machines"], replay["room"]
    if not rows:
        return "The rule could not be tried on this record: no machine fed air both before and after its cut."
    verdict = "inside" if room["is_inside"] else "outside"
    return (
        "Tried on this record itself, fitted on its first two thirds and held against the rest: of "
        f"{spoken(len(rows), 'machine')} {_none_or(replay['inside_count'])} fell inside the limits, where at "
        f"least {replay['confidence'] * len(rows):.3g} are expected, and the room's {room['came_count']:,} protect "
        f"switches were {verdict} the limits of {room['low']:,} to {room['high']:,}."
    )


def _none_or(count: int) -> str:
    return spoken(count, "machine").split()[0] if count else "none"


def _could_show(found: Mapping[str, Any]) -> str:
    growth, typical = found["room"]["growth_found"]["machine"], found["room"]["typical_count"]
    if growth is None:
        text = (
            f"With {spoken(typical, 'protect switch', 'protect switches')}, as the middle machine has, a wearing "
            "machine cannot be told from a steady one"
        )
    else:
        text = (
            f"With {spoken(typical, 'protect switch', 'protect switches')}, as the middle machine has, only a machine "
            f"that had come to switch about {rough(growth)} times as often as on its own average would have been named "
            "(four times of five)"
        )
    run = found["warning"] and found["warning"]["run_length_out_of_control_weeks"]
    if not run:
        return f"{text}."
    length = ", longer than this record" if run * WEEK_H > found["span_h"] else ""
    return (
        f"{text}; one that doubled the room's rate sets off the running sum after about {rough(run)} weeks on "
        f"average{length}."
    )
