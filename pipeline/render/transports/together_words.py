"""The page on pairs in sentences: whether they fail together more than luck, how much, and what it costs protection."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from pipeline.render.words import (
    capital,
    chance,
    counted,
    duration,
    figure,
    hours,
    listed,
    percent,
    share,
    spoken,
    times,
)

SHORT_MIN = 30  # the programme of the answer; the table has longer ones
MOST_NAMED = 8
NEVER = (
    "No two machines of one transmission ever ran well together, so whether pairs fail together cannot be said. It "
    "needs logs of both machines of a pair, and bookings that name both, of the same hours."
)
RAN = "In {} in which two machines of one transmission both ran well,"
SAME_SPOT = (
    "where they were in step, the same spot of both copies, against which no protect machine helps, only another "
    "recording."
)
Found = Mapping[str, Any]


def answer(found: Found) -> list[str]:
    """The first sentences: what was seen against luck, the share with limits, a programme, and what stands out."""
    room = found["room"]
    if room["p"] is None:
        return [NEVER]
    if not room["singles_count"] + room["doubles_count"]:
        ran = RAN.format(hours(room["shared_s"]))
        return [f"{ran} none of them failed. How much they share cannot be said before some fail."]
    return [
        _seen(found),
        *_programme(found),
        *_named(found),
        *_elsewhere(found),
        *_same_reels(found),
        *_same_spot(found),
    ]


def _seen(found: Found) -> str:
    room = found["room"]
    close = f"within {duration(found['window_s'])} of each other"
    count = room["doubles_count"]
    both = f"they failed {close} {times(count)}" if count else f"they never failed {close}"
    few = "less than 0.01 times" if room["expected"] < 0.01 else f"at most {figure(room['expected'])} times"
    start = f"{RAN.format(hours(room['shared_s']))} {both}, where luck would bring that {few}"
    if room["is_named"]:
        verdict = (
            "they share causes" if count > 1 else "more than luck easily gives, though one event is little to go by"
        )
        return (
            f"{start}: {verdict} (adjusted {chance(room['adjusted_p'])}). Of all failures of a machine, "
            f"{share_with_limits(room['share'])} took another of its transmission too{_once(room)}."
        )
    find = _could_find(room, found["power"])
    at_most = f"at most {share(room['share']['high'], 1)} of a machine's failures take another of its transmission too"
    return f"{start}: no more than luck easily gives. By the upper 95 % limit {at_most}. {find}"


def _once(room: Found) -> str:
    """The share with each recording counted once, where one failed at more than one playing."""
    return f"; with each recording counted once: {share_with_limits(room['share_once'])}" if room["share_once"] else ""


def _elsewhere(found: Found) -> list[str]:
    """Pairs that would be named but for a recording that failed on another pair too."""
    rows = [row for row in found["pairs"] if row["reels_elsewhere"] and row["adjusted_p"] < found["level"]]
    return [
        f"{listed(row['machines'])} are not called out: {_all_doubles(row['doubles_count'])} of the reels "
        f"{listed(row['reels_elsewhere'])}, which failed at the same spot of both copies on another pair too."
        for row in rows[:MOST_NAMED]
    ]


def _all_doubles(count: int) -> str:
    return "their only double was" if count == 1 else f"all their {spoken(count, 'double')} were"


def _could_find(room: Found, power: float) -> str:
    if room["least_share"] is None:
        return "With so few faults no share, however large, would surely have been found."
    return f"A share of {share(room['least_share'], 1)} would have been found with a chance of {percent(power)}."


def _programme(found: Found) -> list[str]:
    """A short programme: how often both are lost, against machines that fail apart and a machine alone."""
    rows = [row for row in found["programmes"] if row["minutes"] == SHORT_MIN]
    if not rows:
        return []
    row = rows[0]
    pair, apart = row["together"], f"{once_in(row['apart'])} if they only ever failed apart"
    alone = f"One machine without protect would fail in it {once_in(row['alone'])}."
    start = f"A programme of {SHORT_MIN} min loses both at some moment"
    if not found["room"]["is_named"]:
        return [f"{start} {apart}, and by the upper limit of the share {once_in(pair['high'])}. {alone}"]
    ends = f"{once_in(pair['low'])} to {once_in(pair['high'])} at the limits of the share"
    return [f"{start} about {once_in(pair['value'])} ({ends}), rather than {apart}. {alone}"]


def _named(found: Found) -> list[str]:
    rows = [row for row in found["pairs"] if row["is_named"]]
    if not rows:
        return ["No pair stands out by itself, their number allowed for."] if found["pairs"] else []
    told = [
        f"{listed(row['machines'])} ({spoken(row['doubles_count'], 'double')}, by luck {figure(row['expected'])})"
        for row in rows[:MOST_NAMED]
    ]
    more = f" and {counted(len(rows) - MOST_NAMED, 'more pair')} in the table" if len(rows) > MOST_NAMED else ""
    once = " A pair with one double is worth a look and no more: of its own share little is known."
    text = f"Pairs that fail together more than luck gives, their number allowed for: {'; '.join(told)}{more}."
    return [text + (once if any(row["doubles_count"] == 1 for row in rows) else "")]


def _same_reels(found: Found) -> list[str]:
    """Doubles of the same reels: what was recorded wrong comes back at each playing, and counts each time."""
    counts = Counter(tuple(double["reels"]) for double in found["doubles"] if double["reels"])
    again = [(reels, count) for reels, count in counts.items() if count > 1]
    return [
        f"{capital(spoken(count, 'double'))} of {len(found['doubles'])} were of the same reels, {listed(list(reels))}: "
        "one bad recording may be behind them. It counts at each playing, in the share of the room and in that of the "
        "pair that happened to play it."
        for reels, count in again[:MOST_NAMED]
    ]


def _same_spot(found: Found) -> list[str]:
    """How many doubles were the same spot of both copies: no machine protects against those."""
    doubles = found["doubles"]
    same = sum(double["is_same_spot"] for double in doubles)
    if not same:
        return []
    of = "All doubles were" if same == len(doubles) else f"{capital(spoken(same, 'double was', 'doubles were'))}"
    return [f"{of} the loss of the same thing, picture or sound, within 0.5 s on both: {SAME_SPOT}"]


def share_with_limits(limits: Found) -> str:
    """Such as "13.1 % (5.5 % to 24.4 %)"; without a failure "not known"."""
    if limits["value"] is None:
        return "not known"
    return f"{share(limits['value'], 1)} ({share(limits['low'], 1)} to {share(limits['high'], 1)})"


def once_in(probability: float | None) -> str:
    """A chance as "once in 170", two figures that count; "never" for none, "n/a" where there is no number."""
    if probability is None:
        return "n/a"
    if probability <= 0.0:
        return "never"
    every = 1.0 / probability
    if every < 9.95:
        return f"once in {every:.1f}"
    step = 10 ** (len(str(round(every))) - 2)
    return f"once in {round(every / step) * step:,}"


def returning(found: Found) -> list[str]:
    """How long until cover is back after a single fault, in sentences; and how long the doubles seen lasted."""
    cover, lines = found["cover"], []
    if cover["returns_count"]:
        back = cover["back_s"]
        median = "" if cover["median_s"] is None else f" Half were back within {duration(cover['median_s'])}."
        lines.append(
            f"{counted(cover['waits_count'], 'single fault')} left one machine good; both ran well again "
            f"{times(cover['returns_count'])} before the booking ended: {duration(back['value'])} of waiting for each "
            f"return (95 % limits {duration(back['low'])} to {duration(back['high'])}).{median}"
        )
    else:
        lines.append("No machine that failed alone was seen to come back before its booking ended.")
    if found["doubles"]:
        waits = [double["neither_s"] for double in found["doubles"]]
        lines.append(
            f"In the {counted(len(waits), 'double')} seen neither of the two was good for {duration(sum(waits))} in "
            f"all, the longest {duration(max(waits))}, as far as their bookings reached."
        )
    return lines


def not_known(found: Found) -> tuple[str, ...]:
    """What the page cannot see, for its last section."""
    lines = [
        "Shared causes that strike further apart than the window: both heads worn by one bad batch, both reels fading.",
        "Faults that no machine logs, and losses after the selector: both copies may be good and the air lost.",
        "Whether two machines that fail together do so by the reel, the feed, the reference, the mains or a hand.",
    ]
    if found["others"] and found["others"]["shared_s"]:
        lines.append(
            "Whether machines that are no registered pair should be one: they are judged together, as one line."
        )
    least = found["room"]["least_share"]
    if least is not None and not found["room"]["is_named"]:
        lines.append(f"Whether a share smaller than {share(least, 1)} is there.")
    return tuple(lines)
