"""The kinds of sentence on what happened to air: signs, loss, what stood behind it, takes, back and covered again."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from itertools import pairwise

from tests.render.account_checker import (
    BAD,
    HELD,
    KIND_WORDS,
    Reader,
    T,
    begins,
    channel_of,
    is_length,
    kind,
    machine_left,
    near,
    onsets,
)
from tests.render.raw_site import FAULTS, LEAD, Fact


@kind("first sign", "The first sign in the window was on {M:m}, {X:x}, at {T:t}, {D:d} before.")
def _(r: Reader) -> bool:
    sign = r.at(r.when("t"), "event", machine=r.groups["m"])
    earlier = [
        f for f in r.site.events[r.groups["m"]] if r.start - LEAD <= f.at < r.when("t").at - timedelta(seconds=0.01)
    ]
    is_first = not any(f.row["event"] in FAULTS for f in earlier)
    begun = next((f for f in r.facts if near(f.at, r.start)), None)
    return bool(sign and sign.words == r.groups["x"] and is_first and r.apart("d", sign, begun))


@kind("loss, logged", "{T:t}: air on channel {C:c} was lost; {M:m}, on air, logged {X:x}.")
def _(r: Reader) -> bool:
    said = {f.words for f in r.of("event", machine=r.groups["m"]) if near(f.at, r.when("t").at)}
    was = r.site.is_good(r.groups["m"], r.when("t").at, before=True), r.site.is_good(r.groups["m"], r.when("t").at)
    return (
        set(re.split(r", | and ", r.groups["x"])) == said
        and was == (True, False)
        and fed(r, r.groups["c"], r.groups["m"])
    )


def fed(r: Reader, channel: str, machine: str) -> bool:
    """Whether a row pointed at put the machine on air: the channel's last take before, or else a booking."""
    if r.site.selector(channel, r.start, before=True) == machine or r.site.selector(channel, r.start) == machine:
        return bool(r.of("take", channel=channel, to_machine=machine))
    return bool(r.of("booking", channel=channel, machine=machine))


@kind("loss, not good", "{T:t}: air on channel {C:c} was lost; {M:m}, on air, was not good: {X:x}.")
def _(r: Reader) -> bool:
    told = [f"{f.words} at " for f in r.of("event", machine=r.groups["m"])]
    is_bad = not r.site.is_good(r.groups["m"], r.when("t").at)
    return is_bad and any(r.groups["x"].startswith(words) for words in told) and fed(r, r.groups["c"], r.groups["m"])


@kind(
    "loss, standby", "{T:t}: air on channel {C:c} was lost; the selector was on standby, taken with the reason {X:x}."
)
def _(r: Reader) -> bool:
    return r.at(r.when("t"), "take", channel=r.groups["c"], to_machine="standby", reason=r.groups["x"]) is not None


@kind(
    "loss, standby", "{T:t}: air on channel {C:c} was lost; the selector was on standby, taken with no reason stated."
)
def _(r: Reader) -> bool:
    return r.at(r.when("t"), "take", channel=r.groups["c"], to_machine="standby", reason=None) is not None


@kind("loss, on standby", "{T:t}: air on channel {C:c} was lost; the selector was on standby.")
def _(r: Reader) -> bool:
    booked = r.at(r.when("t"), "booking", channel=r.groups["c"], role="air")
    return booked is not None and r.site.selector(r.groups["c"], r.start) in ("standby", "other")


@kind("covered before", "Air had been covered until then: {X:x}.")
def _(r: Reader) -> bool:
    form = rf"({HELD['M']}) was good, and the last offset between it and ({HELD['M']}) was ({HELD['V']}), at ({T})"
    parts = [re.fullmatch(form, part) for part in r.groups["x"].split("; ")]
    return bool(parts) and all(part is not None and is_cover(r, *part.groups()) for part in parts)


def is_cover(r: Reader, other: str, feed: str, value: str, at: str) -> bool:
    """Whether the two were in step until then, and the offset told is the last one logged."""
    last = r.site.last_offset(other, feed, r.start, before=True)
    is_last = last is not None and near(last.at, r.parse(at).at) and last in r.facts
    is_value = is_last and f"{float(last.row['value']) * 1000:+.0f} ms".replace("-", "−") == value  # type: ignore[union-attr]
    return is_value and r.site.in_step(other, feed, r.start, before=True)


@kind("exposed, none booked", "Air had been exposed until then: no protect was booked.")
def _(r: Reader) -> bool:
    return len({f.row["machine"] for f in r.site.booked(channel_of(r), r.start)}) == 1 and bool(r.of("booking"))


@kind("exposed, not good", "Air had been exposed until then: protect was not good ({M:m}: {X:x} at {T:t}).")
def _(r: Reader) -> bool:
    word = r.at(r.when("t"), "event", machine=r.groups["m"])
    is_bad = not r.site.is_good(r.groups["m"], r.start, before=True)
    booked = {f.row["machine"] for f in r.site.booked(channel_of(r), r.start)}
    return bool(word and word.words == r.groups["x"] and is_bad and r.groups["m"] in booked)


@kind(
    "exposed, out of step",
    "Air had been exposed until then: protect was out of step "
    "(the last offset between {M:m} and {M:n} was {V:v}, at {T:t}).",
)
def _(r: Reader) -> bool:
    last = r.site.last_offset(r.groups["m"], r.groups["n"], r.start, before=True)
    told = last is not None and near(last.at, r.when("t").at) and last in r.facts
    pair = {f.row["machine"] for f in r.site.booked(channel_of(r), r.start)}
    return (
        told
        and {r.groups["m"], r.groups["n"]} <= pair
        and f"{float(last.row['value']) * 1000:+.0f} ms".replace("-", "−") == r.groups["v"]
        and abs(float(last.row["value"])) > 0.04
    )  # type: ignore[union-attr]


@kind("unproved", "A protect was there until then, but nothing logged proves that it covered.")
def _(r: Reader) -> bool:
    machines = {f.row["machine"] for f in r.of("booking")}
    left = machine_left(r)
    return len(machines) > 1 and not any(
        r.site.in_step(left, other, r.start, before=True) for other in machines - {left}
    )


@kind("unknown", "What was on air until then is not known.")
def _(r: Reader) -> bool:
    # Of a machine that logs alive nothing is known from 180 s after its last line (the site's silence).
    said = [f for f in r.site.events[machine_left(r)] if f.at < r.start]
    is_silent = (r.start - said[-1].at).total_seconds() > 180.0 and any(f.row["event"] == "alive" for f in said)
    return bool(r.of("booking", channel=channel_of(r))) and is_silent


@kind("nothing before", "No air of this room came just before it, so nothing was covered.")
def _(r: Reader) -> bool:
    return any(near(f.at, r.start) and f.row["channel"] == channel_of(r) for f in r.of("booking"))


@kind("no onset", "No fault and no alarm is logged before the take: it has no onset.")
def _(r: Reader) -> bool:
    left = machine_left(r)
    alarms = [f for f in r.site.events[left] if f.row["event"] == "alarm" and r.start - LEAD <= f.at <= r.start]
    clears = [f for f in r.site.events[left] if f.row["event"] == "clear" and f.at <= r.start]
    return (
        r.site.is_good(left, r.start)
        and all(any(c.at >= a.at for c in clears) for a in alarms)
        and any(f.at <= r.start and f.row["event"] in ("roll", "lock") for f in r.of("event", machine=left))
    )


@kind("no take", "No take came: the window or the data ended {D:d} after the onset.")
def _(r: Reader) -> bool:
    ends = [r.site.utc(f.row["ends"]) for f in r.of("booking")] + [r.site.last_at]
    fits = [end for end in ends for o in onsets(r) if is_length(r.groups["d"], (end - o.at).total_seconds())]
    takes = [f for f in r.site.of("take") if f.row["channel"] == channel_of(r) and fits and r.start < f.at < fits[0]]
    return bool(fits) and not takes


@kind("take", "The take came at {T:t}, {D:d} after the onset.")
def _(r: Reader) -> bool:
    take = r.at(r.when("t"), "take", from_machine=machine_left(r))
    return any(r.apart("d", onset, take) for onset in onsets(r))


@kind("taken by way of standby", "Standby was taken at {T:t}, {D:d} after the onset, and from there {M:m}: {X:x}.")
def _(r: Reader) -> bool:
    take = r.at(r.when("t"), "take", to_machine="standby")
    on = r.of("take", to_machine=r.groups["m"])
    is_on = any(f.at >= r.when("t").at for f in on)
    return is_on and is_kind(r, take) and any(r.apart("d", onset, take) for onset in onsets(r))


@kind("taken", "{M:m} was taken at {T:t}, {D:d} after the onset, {X:x}.")
def _(r: Reader) -> bool:
    take = r.at(r.when("t"), "take", to_machine=r.groups["m"])
    return is_kind(r, take) and any(r.apart("d", onset, take) for onset in onsets(r))


def is_kind(r: Reader, take: Fact | None) -> bool:
    """Whether the kind told is the stated reason's, or with no reason that of the machine left not good."""
    if take is None or r.groups["x"] not in KIND_WORDS:
        return False
    reason = take.row["reason"]
    if reason is None:
        return r.groups["x"] == "a forced switch" and not r.site.is_good(take.row["from_machine"], take.at)
    return reason in KIND_WORDS[r.groups["x"]]


@kind("back", "Air was back at {T:t}; {D:d} of air lost.")
@kind("back", "Air was back at {T:t}; {X:d} of air lost (± {X:more}).")
@kind("back, after gaps", "Air was back at {T:t}, {D:w} after it went; {D:d} of air lost.")
def _(r: Reader) -> bool:
    back = r.when("t").at
    begun = [f for f in r.facts if near(f.at, r.start)]
    feed = feed_at(r, back)
    whole = r.groups.get("w")
    if whole is not None:
        return (
            bool(begun)
            and is_length(whole, (back - r.start).total_seconds())
            and lost(r, back)
            and r.site.is_good(feed, back)
        )
    return bool(begun) and is_length(r.groups["d"], (back - r.start).total_seconds()) and r.site.is_good(feed, back)


def feed_at(r: Reader, at: datetime) -> str:
    """What fed the channel: where the takes since the beginning had put it, else the machine it began on."""
    takes = [f for f in r.site.of("take") if f.row["channel"] == channel_of(r) and r.start <= f.at <= at]
    last = str(max(takes, key=lambda f: f.at).row["to_machine"]) if takes else machine_left(r)
    return machine_left(r) if last in ("standby", "other") else last


def lost(r: Reader, back: datetime) -> bool:
    """Whether the seconds lost are those in which the machine left was not good, added up."""
    left = machine_left(r)
    marks = sorted({r.start, back, *(f.at for f in r.site.events[left] if r.start <= f.at <= back)})
    gone = sum((b - a).total_seconds() for a, b in pairwise(marks) if not r.site.is_good(left, a))
    return is_length(r.groups["d"], gone)


@kind("not back", "Air did not come back before the window or the data ended, {D:d} later.")
def _(r: Reader) -> bool:
    ends = [r.site.utc(f.row["ends"]) for f in r.of("booking")] + [r.site.last_at]
    return any(is_length(r.groups["d"], (end - r.start).total_seconds()) for end in ends) and begins(r)


@kind("covered again", "Air was covered again at {T:t}.")
@kind("covered again", "Air was covered again at {T:t}, {D:d} after the onset.")
@kind("covered from", "Air was covered from {T:t} on.")
def _(r: Reader) -> bool:
    at = r.when("t").at
    row = next((f for f in r.facts if near(f.at, at)), None)
    feed = feed_at(r, at)
    names = {f.row["machine"] for f in r.of("event")}
    is_covered = any(r.site.in_step(feed, name, row.at) for name in names - {feed} if row and feed in names)  # type: ignore[arg-type]
    is_new = not any(
        r.site.in_step(feed, name, row.at, before=True) for name in names - {feed} if row and feed in names
    ) or (row and row.kind != "event")  # type: ignore[arg-type]
    if "d" not in r.groups:
        return is_covered and bool(is_new)
    said = [
        f
        for f in r.site.events[machine_left(r)]
        if f.row["event"] in (*BAD, "alarm") and f.at <= r.start + timedelta(seconds=1)
    ]
    return is_covered and bool(is_new) and any(is_length(r.groups["d"], (at - f.at).total_seconds()) for f in said)
