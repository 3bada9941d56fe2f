"""The kinds of sentence on what protect did, what else failed, causes, rulings, and other sources."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.render.account_checker import (
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
from tests.render.account_kinds_air import feed_at
from tests.render.raw_site import FAULTS, LEAD, Fact


@kind("covered throughout", "Air was covered before and after the take.")
def _(r: Reader) -> bool:
    takes = [f for f in r.of("take") if f.row["channel"] == channel_of(r)]
    return any(r.site.in_step(f.row["from_machine"], f.row["to_machine"], f.at) for f in takes)


@kind("not covered again", "Air was not covered again before the window or the data ended.")
def _(r: Reader) -> bool:
    booked = r.of("booking")
    end = max(r.site.utc(f.row["ends"]) for f in booked) if booked else r.start
    names = {f.row["machine"] for f in booked}
    marks = [f.at for name in names for f in r.site.events[name] if r.start + timedelta(seconds=60) < f.at < end]
    pairs = [(one, other) for one in names for other in names if one < other]
    return len(names) > 0 and not any(
        r.site.in_step(*pair, at) for pair in pairs for at in marks if r.site.selector(channel_of(r), at) in pair
    )


@kind("protect met", "Protect was needed and met the need.")
def _(r: Reader) -> bool:
    takes = [f for f in r.of("take", channel=channel_of(r)) if f.row["to_machine"] not in ("standby", "other")]
    left = machine_left(r)
    return any(
        r.site.in_step(left, f.row["to_machine"], r.start, before=True) and r.site.is_good(f.row["to_machine"], f.at)
        for f in takes
    )


@kind("healed", "Protect was needed, and air came back by itself before any take: neither met nor failed.")
@kind(
    "healed",
    "Protect was needed, and air came back by itself before any take; no protect was there: neither met nor failed.",
)
def _(r: Reader) -> bool:
    good = [
        f for f in r.of("event", machine=machine_left(r)) if f.at > r.start and r.site.is_good(machine_left(r), f.at)
    ]
    if not good:
        return False
    takes = [f for f in r.site.of("take") if f.row["channel"] == channel_of(r) and r.start < f.at <= good[-1].at]
    alone = len({f.row["machine"] for f in r.site.booked(channel_of(r), r.start)}) == 1
    told = any("no protect was there" in text for text in r.account)
    return not takes and alone == told


@kind("not met", "Protect was needed and did not meet the need.")
@kind("not met", "Protect was needed and did not meet the need; no protect was there.")
def _(r: Reader) -> bool:
    left, covering = machine_left(r), [f.row["machine"] for f in r.site.booked(channel_of(r), r.start)]
    takes = [f.row["to_machine"] for f in r.of("take", channel=channel_of(r)) if f.at >= r.start]
    met = any(
        r.site.in_step(left, name, r.start, before=True) and r.site.is_good(name, r.start)
        for name in takes
        if name in covering and "What was on air until then is not known." not in r.account
    )
    return not r.site.is_good(left, r.start) and not met and begins(r)


@kind("others' signs", "While air was lost, {X:x}.")
def _(r: Reader) -> bool:
    return told_events(r, r.groups["x"])


def told_events(r: Reader, text: str) -> bool:
    """Whether "M logged word at time" is so, for each in a row."""
    parts = re.findall(rf"({HELD['M']}) logged (.+?) at ({T})", text)
    rows = [(r.at(r.parse(at), "event", machine=name), words) for name, words, at in parts]
    return bool(rows) and len(rows) == text.count(" logged ") and all(row and row.words == words for row, words in rows)


@kind("at once", "Within 5 s of it {X:x}: what struck both may lie outside the machines.")
@kind("at once", "Within 5 s of it {X:x}: what struck all may lie outside the machines.")
@kind("shared", "Within 5 s {X:x}: that points at something the machines share.")
def _(r: Reader) -> bool:
    named = re.findall(rf"({HELD['M']}) logged .+? at ({T})", r.groups["x"])
    is_near = all(abs((r.parse(at).at - r.start).total_seconds()) <= 5.01 for _, at in named)
    every = {name for name in r.site.events if name != machine_left(r) and faults_near(r, name)}
    spot = {re.match(r"(\w+)", text).group(1) for text in r.account if "same spot of both copies" in text}  # type: ignore[union-attr]
    return told_events(r, r.groups["x"]) and is_near and every == {name for name, _ in named} | spot


def faults_near(r: Reader, machine: str) -> list[Fact]:
    near_it = [f for f in r.site.events[machine] if abs((f.at - r.start).total_seconds()) <= 5.0]
    return [f for f in near_it if f.row["event"] in FAULTS]


@kind(
    "same spot",
    "{M:m} logged {X:x} too, at {T:t}, {D:d} from {M:n}; the two were in step, so it is the same spot of both copies. "
    "Protect cannot help against that.",
)
@kind(
    "same spot, clocks not known",
    "{M:m} logged {X:x} too, at {T:t}, {D:d} from {M:n}; the two were in step, so if their clocks agree it is the same "
    "spot of both copies. Protect cannot help against that.",
)
def _(r: Reader) -> bool:
    one, other = r.at(r.when("t"), "event", machine=r.groups["m"]), next(iter(faults_near(r, r.groups["n"])), None)
    if (
        one is None
        or other is None
        or other not in r.facts
        or one.words != r.groups["x"]
        or other.row["event"] != one.row["event"]
    ):
        return False
    is_known = all(r.margins.get(r.groups[name]) is not None for name in ("m", "n"))
    told = next(text for text in r.account if "same spot of both copies" in text)
    is_spot = is_length(r.groups["d"], abs((one.at - other.at).total_seconds())) and is_known != ("if their" in told)
    return is_spot and r.site.in_step(r.groups["m"], r.groups["n"], min(one.at, other.at), before=True)


@kind("copies", "The copies booked were {X:x}.")
def _(r: Reader) -> bool:
    parts = re.findall(r"([\w-]+) on (\w+)(?:, recorded on (\w+))?(?: and |, |$)", r.groups["x"])
    return len(parts) > 1 and all(
        r.of("booking", reel=reel, machine=machine) and (not made or r.of("reel", reel=reel, recorded_on=made))
        for reel, machine, made in parts
    )


@kind(
    "recording",
    "No other machine of the room logged a fault within 5 s{X:x}. It points at the recording, "
    "or at what both machines were fed, and not at {M:m}.",
)
@kind(
    "recording",
    "No other machine of the room logged a fault within 5 s. It points at the recording, or at "
    "what both machines were fed, and not at {M:m}.",
)
def _(r: Reader) -> bool:
    rolled = re.findall(HELD["M"] + r"(?=,| and| had)", r.groups.get("x") or "")
    two = {r.groups["m"]} | {text.split()[0] for text in r.account if "same spot of both copies" in text}
    others = [name for name in r.site.events if name not in two and faults_near(r, name)]
    return (
        r.groups["m"] == machine_left(r)
        and begins(r)
        and not others
        and all(r.of("event", machine=name, event="roll") for name in rolled)
    )


@kind("switch alone", "{T:t}: on channel {C:c} {M:m} was taken in place of {M:n}, {X:x}; {X:why}.")
def _(r: Reader) -> bool:
    take = r.at(r.when("t"), "take", channel=r.groups["c"], from_machine=r.groups["n"])
    to = r.of("take", channel=r.groups["c"], to_machine=r.groups["m"])
    if take is None or not to or r.groups["x"] not in KIND_WORDS:
        return False
    reason = take.row["reason"]
    if reason:
        return r.groups["why"] == f"the stated reason is {reason}" and reason in KIND_WORDS[r.groups["x"]]
    alarms = [
        f for f in r.site.events[r.groups["n"]] if f.row["event"] == "alarm" and take.at - LEAD <= f.at <= take.at
    ]
    found = "a switch made as a precaution" if alarms else "a switch that nothing explains"
    is_ruled = any(f"ruled to be {r.groups['x']} " in text and f"found {found}." in text for text in r.account)
    return r.groups["why"] == "no reason is stated" and (r.groups["x"] == found or is_ruled)


@kind("no loss", "No loss of air is logged for it.")
def _(r: Reader) -> bool:
    takes = [f for f in r.of("take", channel=channel_of(r)) if near(f.at, r.start)]
    return any(
        r.site.is_good(f.row["from_machine"], f.at, before=True) and r.site.is_good(f.row["to_machine"], f.at)
        for f in takes
    )


@kind("good again", "{M:m} was logged good again at {T:t}, {D:d} after the onset, by the line {X:x}.")
@kind("good again", "{M:m} was logged good again at {T:t}, {D:d} after air was lost, by the line {X:x}.")
def _(r: Reader) -> bool:
    again = r.at(r.when("t"), "event", machine=r.groups["m"])
    if again is None or again.words != r.groups["x"] or not r.site.is_good(r.groups["m"], again.at):
        return False
    # Good again is for good: what was back for less than a second (the merge gap) was one and the same loss.
    between = [f for f in r.site.events[r.groups["m"]] if r.start < f.at < again.at]
    ends = [*(f.at for f in between[1:]), again.at]
    gaps = [
        (end - f.at).total_seconds()
        for f, end in zip(between, ends, strict=False)
        if r.site.is_good(r.groups["m"], f.at)
    ]
    is_first = all(gap < 1.0 for gap in gaps) and not r.site.is_good(r.groups["m"], again.at, before=True)
    since = [*(f.at for f in onsets(r)), r.start]
    return is_first and any(is_length(r.groups["d"], (again.at - at).total_seconds()) for at in since)


@kind("restored", "Ticket {K:k} says that {M:m} was restored on {T:t}.")
def _(r: Reader) -> bool:
    return any(
        near(r.site.utc(f.row["restored"]), r.when("t").at)
        for f in r.of("ticket", ticket=r.groups["k"], machine=r.groups["m"])
    )


@kind("not told when good", "No line and no ticket says when {M:m} was good again.")
def _(r: Reader) -> bool:
    later = [f for f in r.site.events[r.groups["m"]] if f.at >= r.start]
    was_bad = not r.site.is_good(r.groups["m"], r.start)
    is_shown = any(f.at <= r.start and r.start - f.at <= LEAD for f in onsets(r) if f.row["machine"] == r.groups["m"])
    is_told = was_bad and any(r.site.is_good(r.groups["m"], f.at) for f in later)
    return r.groups["m"] == machine_left(r) and is_shown and not is_told


@kind("no ticket", "No ticket belongs to it; its cause is unknown.")
def _(r: Reader) -> bool:
    return not r.facts and not any(text.startswith("Ticket") for text in r.account)


def ticket_words(r: Reader, named: str, on: str | None, words: str | None) -> bool:
    """Whether the ticket is on that machine near that time, and each deciding word stands in it."""
    rows = r.of("ticket", ticket=named, **({"machine": on} if on else {"machine": machine_left(r)}))
    text = " ".join(str(cell) for fact in rows for cell in fact.row.values() if cell).lower()
    is_near = any(timedelta(hours=-1) <= fact.at - r.start <= timedelta(hours=30) for fact in rows)
    return is_near and all(word.lower() in text for word in (words or "").split(", ") if word)


@kind("cause", "Ticket {K:k} {X:verb} the cause: {X:cause} ({X:grade}: {X:words}).")
@kind(
    "cause, elsewhere", "Ticket {K:k} (on {M:on}, not on {M:m}) {X:verb} the cause: {X:cause} ({X:grade}: {X:words})."
)
def _(r: Reader) -> bool:
    verb = {"stated": "states", "proved by swap": "shows", "guessed from words": "suggests"}.get(r.groups["grade"])
    is_left = r.groups.get("m") in (None, machine_left(r))
    return (
        verb == r.groups["verb"] and is_left and ticket_words(r, r.groups["k"], r.groups.get("on"), r.groups["words"])
    )


@kind("cause unknown", "Ticket {K:k} leaves the cause unknown: {X:why}.")
@kind("cause unknown", "Ticket {K:k} (on {M:on}, not on {M:m}) leaves the cause unknown: {X:why}.")
def _(r: Reader) -> bool:
    return r.groups["why"] in ("looked and not found", "not looked at", "record missing") and ticket_words(
        r, r.groups["k"], r.groups.get("on"), None
    )


@kind("side", "By that it lies {X:where}.")
@kind("side, by swap", "A swap proved it: the fault went with what those words name, {X:where}.")
def _(r: Reader) -> bool:
    named = re.search(rf"(?:with|and) ({HELD['M']})$", r.groups["where"])
    rows = r.of("ticket")
    where = ("outside the machine", "on the record side", "on the play side", "with the tape", "between the machine")
    return (
        bool(rows)
        and r.groups["where"].startswith(where)
        and (named is None or rows[0].row["machine"] == named.group(1))
    )


@kind(
    "rescue",
    "{T:t}: another source, not of this room, was taken on channel {C:c} in place of {M:m}, "
    "with the reason {X:x}; it stayed for {D:d}.",
)
@kind(
    "rescue",
    "{T:t}: another source, not of this room, was taken on channel {C:c} in place of {M:m}, "
    "with no reason stated; it stayed for {D:d}.",
)
def _(r: Reader) -> bool:
    take = r.at(r.when("t"), "take", channel=r.groups["c"], to_machine="other", reason=r.groups.get("x"))
    ends = [f for f in r.of("take", channel=r.groups["c"]) if f.at > r.start]
    left = {f.row["from_machine"] for f in r.of("take", channel=r.groups["c"]) if near(f.at, r.start)}
    is_left = r.groups["m"] in left or left == {"standby"}
    return is_left and any(r.apart("d", take, end) for end in ends)


@kind("off air", "The room was off air: this is no air time, and it counts as a failed demand on protect.")
def _(r: Reader) -> bool:
    return any(near(f.at, r.start) for f in r.of("take", to_machine="other"))


RULED = {
    "forced": "a forced switch",
    "precaution": "a switch made as a precaution",
    "unexplained": "a switch that nothing explains",
}


def ruling(r: Reader, rules: str) -> dict[str, Any]:
    """The cells of the ruling told, or nothing: its id, why and the time of deciding must stand in its row."""
    rows = r.of("rules", ruling=r.groups["k"], rules=rules, why=r.groups["why"])
    is_told = bool(rows) and near(r.site.utc(rows[0].row["decided"]), _local(r, r.groups["at"]))
    return rows[0].row if is_told else {}


def _local(r: Reader, text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=r.site.zone).astimezone(UTC).replace(tzinfo=None)


@kind("ruled switch", "It was ruled to be {X:x} (ruling {K:k}, decided {X:at}: {X:why}); the program found {X:found}.")
def _(r: Reader) -> bool:
    says = ruling(r, "switch").get("says")
    take = next((f for f in r.site.of("take") if f.row["channel"] == channel_of(r) and near(f.at, r.start)), None)
    reason = take.row["reason"] if take else None
    found = KIND_WORDS.get(r.groups["found"], ("none",))
    return says is not None and RULED[says] == r.groups["x"] and (reason in found if reason else found == ())


@kind(
    "ruled cause",
    "The cause was ruled to be {X:x} (ruling {K:k}, decided {X:at}: {X:why}); the program found {X:found}.",
)
def _(r: Reader) -> bool:
    says = ruling(r, "cause").get("says")
    return (
        says is not None
        and says.replace(": ", ", ").lower() == r.groups["x"].lower()
        and r.groups["found"] == "Unknown, record missing"
    )


@kind("joined", "It was ruled to belong to this incident (ruling {K:k}, decided {X:at}: {X:why}).")
@kind("joined", "It was ruled to belong to this incident (ruling {K:k}, decided {X:at}: {X:why}){X:rest}.")
def _(r: Reader) -> bool:
    row = ruling(r, "one incident")
    return (
        bool(row)
        and r.site.utc(row["at"]) <= r.start <= r.site.utc(row["until"])
        and (not r.groups.get("rest") or "incident 2031" in r.groups["rest"])
    )


@kind(
    "healed after a take",
    "Protect was needed, and no take brought air back, it came by itself: neither met nor failed.",
)
def _(r: Reader) -> bool:
    if not r.facts:
        return False
    back = max(r.facts, key=lambda fact: fact.at)
    takes = [f for f in r.of("take", channel=channel_of(r)) if r.start <= f.at < back.at]
    is_back = (
        back.kind == "event"
        and r.site.is_good(back.row["machine"], back.at)
        and not r.site.is_good(back.row["machine"], back.at, before=True)
    )
    return bool(takes) and is_back and feed_at(r, back.at) == back.row["machine"]
