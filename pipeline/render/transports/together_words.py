"""The page on pairs in sentences: whether they fail together more than luck, how much, and what it costs protection."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from pipeline.render.language import decimal, say, say_counted, whole
from pipeline.render.transports.together_numbers import once_in, share_with_limits
from pipeline.render.words import capital, chance, duration, figure, hours, listed, percent, share, spoken, times

SHORT_MIN = 30  # the programme of the answer; the table has longer ones
MOST_NAMED = 8
Found = Mapping[str, Any]


def answer(found: Found) -> list[str]:
    """The first sentences: what was seen against luck, the share with limits, a programme, and what stands out."""
    room = found["room"]
    if room["p"] is None:
        return [
            say(
                "No two machines of one transmission ever ran well together, so whether pairs fail together cannot be "
                "said. It needs logs of both machines of a pair, and bookings that name both, of the same hours."
            )
        ]
    if not room["singles_count"] + room["doubles_count"]:
        return [
            say(
                "In {hours} in which two machines of one transmission both ran well, none of them failed. How much "
                "they share cannot be said before some fail.",
                hours=hours(room["shared_s"]),
            )
        ]
    return [
        _seen(found),
        *_programme(found),
        *_named(found),
        *_elsewhere(found),
        *_same_reels(found),
        *_same_spot(found),
    ]


def _seen(found: Found) -> str:
    room, start = found["room"], _against_luck(found)
    if not room["is_named"]:
        return say(
            "{start}: no more than luck easily gives. By the upper 95 % limit at most {share} of a machine's failures "
            "take another of its transmission too. {found}",
            start=start,
            share=share(room["share"]["high"], 1),
            found=_could_find(room, found["power"]),
        )
    values = {"start": start, "p": chance(room["adjusted_p"]), "share": _shares(room)}
    if room["doubles_count"] > 1:
        return say(
            "{start}: they share causes (adjusted {p}). Of all failures of a machine, {share}.",
            **values,
        )
    return say(
        "{start}: more than luck easily gives, though one event is little to go by (adjusted {p}). Of all failures of "
        "a machine, {share}.",
        **values,
    )


def _against_luck(found: Found) -> str:
    """What was seen, and what luck would bring."""
    room, window = found["room"], duration(found["window_s"])
    if room["expected"] < 0.01:
        luck = say("less than {least} times", least=decimal(0.01, 2))
    else:
        luck = say("at most {expected} times", expected=figure(room["expected"]))
    if not room["doubles_count"]:
        return say(
            "In {hours} in which two machines of one transmission both ran well, they never failed within {window} of "
            "each other, where luck would bring that {luck}",
            hours=hours(room["shared_s"]),
            window=window,
            luck=luck,
        )
    return say(
        "In {hours} in which two machines of one transmission both ran well, they failed within {window} of each other "
        "{times}, where luck would bring that {luck}",
        hours=hours(room["shared_s"]),
        window=window,
        times=times(room["doubles_count"]),
        luck=luck,
    )


def _shares(room: Found) -> str:
    """The share, and with each recording counted once, where one failed at more than one playing."""
    each = share_with_limits(room["share"])
    if not room["share_once"]:
        return say("{share} took another of its transmission too", share=each)
    return say(
        "{share} took another of its transmission too; with each recording counted once: {once}",
        share=each,
        once=share_with_limits(room["share_once"]),
    )


def _elsewhere(found: Found) -> list[str]:
    """Pairs that would be named but for a recording that failed on another pair too."""
    rows = [row for row in found["pairs"] if row["reels_elsewhere"] and row["adjusted_p"] < found["level"]]
    return [_not_called(row) for row in rows[:MOST_NAMED]]


def _not_called(row: Found) -> str:
    pair, reels = listed(row["machines"]), listed(row["reels_elsewhere"])
    if row["doubles_count"] == 1:
        return say(
            "{pair} are not called out: their only double was of the reels {reels}, which failed at the same spot of "
            "both copies on another pair too.",
            pair=pair,
            reels=reels,
        )
    return say(
        "{pair} are not called out: all their {doubles} were of the reels {reels}, which failed at the same spot of "
        "both copies on another pair too.",
        pair=pair,
        doubles=spoken(row["doubles_count"], "double"),
        reels=reels,
    )


def _could_find(room: Found, power: float) -> str:
    if room["least_share"] is None:
        return say("With so few faults no share, however large, would surely have been found.")
    return say(
        "A share of {share} would have been found with a chance of {chance}.",
        share=share(room["least_share"], 1),
        chance=percent(power),
    )


def _programme(found: Found) -> list[str]:
    """A short programme: how often both are lost, against machines that fail apart and a machine alone."""
    rows = [row for row in found["programmes"] if row["minutes"] == SHORT_MIN]
    if not rows:
        return []
    row = rows[0]
    pair = row["together"]
    values = {
        "minutes": str(SHORT_MIN),
        "apart": once_in(row["apart"]),
        "high": once_in(pair["high"]),
        "alone": once_in(row["alone"]),
    }
    if not found["room"]["is_named"]:
        text = say(
            "A programme of {minutes} min loses both at some moment {apart} if they only ever failed apart, and by the "
            "upper limit of the share {high}. One machine without protect would fail in it {alone}.",
            **values,
        )
        return [text]
    text = say(
        "A programme of {minutes} min loses both at some moment about {middle} ({low} to {high} at the limits of the "
        "share), rather than {apart} if they only ever failed apart. One machine without protect would fail in it "
        "{alone}.",
        middle=once_in(pair["value"]),
        low=once_in(pair["low"]),
        **values,
    )
    return [text]


def _named(found: Found) -> list[str]:
    rows = [row for row in found["pairs"] if row["is_named"]]
    if not rows:
        return [say("No pair stands out by itself, their number allowed for.")] if found["pairs"] else []
    pairs = "; ".join(_by_luck(row) for row in rows[:MOST_NAMED])
    if len(rows) > MOST_NAMED:
        text = say_counted(
            "Pairs that fail together more than luck gives, their number allowed for: {pairs} and {n} more pair in "
            "the table.",
            "Pairs that fail together more than luck gives, their number allowed for: {pairs} and {n} more pairs in "
            "the table.",
            len(rows) - MOST_NAMED,
            pairs=pairs,
        )
    else:
        text = say("Pairs that fail together more than luck gives, their number allowed for: {pairs}.", pairs=pairs)
    if all(row["doubles_count"] != 1 for row in rows):
        return [text]
    once = say("A pair with one double is worth a look and no more: of its own share little is known.")
    return [f"{text} {once}"]


def _by_luck(row: Found) -> str:
    return say(
        "{pair} ({doubles}, by luck {expected})",
        pair=listed(row["machines"]),
        doubles=spoken(row["doubles_count"], "double"),
        expected=figure(row["expected"]),
    )


def _same_reels(found: Found) -> list[str]:
    """Doubles of the same reels: what was recorded wrong comes back at each playing, and counts each time."""
    counts = Counter(tuple(double["reels"]) for double in found["doubles"] if double["reels"])
    again = [(reels, count) for reels, count in counts.items() if count > 1]
    return [
        say(
            "{doubles} of {count} were of the same reels, {reels}: one bad recording may be behind them. It counts at "
            "each playing, in the share of the room and in that of the pair that happened to play it.",
            doubles=capital(spoken(count, "double")),
            count=whole(len(found["doubles"])),
            reels=listed(list(reels)),
        )
        for reels, count in again[:MOST_NAMED]
    ]


def _same_spot(found: Found) -> list[str]:
    """How many doubles were the same spot of both copies: no machine protects against those."""
    doubles, within = found["doubles"], decimal(0.5, 1)
    same = sum(double["is_same_spot"] for double in doubles)
    if not same:
        return []
    if same == len(doubles):
        text = say(
            "All doubles were the loss of the same thing, picture or sound, within {within} s on both: where they were "
            "in step, the same spot of both copies, against which no protect machine helps, only another recording.",
            within=within,
        )
        return [text]
    text = say(
        "{doubles} the loss of the same thing, picture or sound, within {within} s on both: where they were in step, "
        "the same spot of both copies, against which no protect machine helps, only another recording.",
        doubles=capital(spoken(same, "double was", "doubles were")),
        within=within,
    )
    return [text]
