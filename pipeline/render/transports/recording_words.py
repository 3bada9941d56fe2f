"""What the faults at playback say, in sentences: the recorder, the player, the shift, the reels, or nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.language import say, say_counted
from pipeline.render.transports.recording_apart import inseparable
from pipeline.render.transports.recording_nothing import nothing_named, playback
from pipeline.render.transports.recording_ratios import or_infinite, said, times_text
from pipeline.render.words import chance, counted, figure

Found = Mapping[str, Any]


def opening(found: Found) -> list[str]:
    """The answer and how sure it is, in sentences that can be read aloud."""
    faults = found["faults"]
    if not faults["played_h"]:
        return [
            say(
                "No machine is known to have run well while it was booked to play a reel, so nothing can be compared. "
                "Needed are bookings that name their reels, labels that say where reels were recorded, and the "
                "machines' logs."
            )
        ]
    if not found["cells"]:
        text = say(
            "On the reels of {playback} no label says which machine recorded, so recorders cannot be held against "
            "players. Needed is the register of reels with recorded_on.",
            playback=playback(faults["played_h"]),
        )
        return [text, *_players_named(found)]
    if not faults["counted_count"]:
        return [
            say(
                "No fault began in {playback}, so there is nothing to lay on a player, recorder or reel.",
                playback=playback(faults["played_h"]),
            )
        ]
    named = [*_recorders_named(found), *_players_named(found), *_recordists_named(found), *_own_named(found)]
    return [*(named or [nothing_named(found)]), *_reels_named(found), *inseparable(found["inseparable"])]


def _recorders_named(found: Found) -> list[str]:
    lines = [
        say(
            "Faults follow the recorder {machine}: its tapes fail {ratio} as often as those of the other recorders, "
            "with the players allowed for, on the {machines} that played them ({faults} on {reels}; adjusted {p}).",
            machine=row["machine"],
            ratio=times_text(row["ratio"]),
            machines=counted(row["players_count"], "machine"),
            faults=counted(row["count"], "fault"),
            reels=counted(row["reels_count"], "reel"),
            p=chance(row["adjusted_p"]),
        )
        for row in found["recorders"]
        if row["is_named"]
    ]
    return [*lines, _cleared(found["players"])] if lines else []


def _cleared(players: Sequence[Found]) -> str:
    """Whether the playing machines are out of it."""
    judged = [row for row in players if row["p"] is not None]
    left = [row["machine"] for row in judged if not row["is_cleared"]]
    if not judged:
        return say("The playing machines are not cleared: none shares a faulty reel with another.")
    reach = _reach([row for row in judged if row["is_cleared"]])
    if left:
        return _not_cleared(left, reach)
    text = say(
        "The playing machines are cleared: on the same reels none of them fails more often than the others beyond what "
        "luck gives ({reach}).",
        reach=reach,
    )
    untested = len(players) - len(judged)
    if not untested:
        return text
    rest = say_counted(
        "{n} machine shared no faulty reel and could not be judged.",
        "{n} machines shared no faulty reel and could not be judged.",
        untested,
    )
    return f"{text} {rest}"


def _not_cleared(left: Sequence[str], reach: str) -> str:
    if reach:
        return say_counted(
            "Of the playing machines {machines} is not cleared, the others are ({reach}).",
            "Of the playing machines {machines} are not cleared, the others are ({reach}).",
            len(left),
            machines=said(left),
            reach=reach,
        )
    return say_counted(
        "Of the playing machines {machines} is not cleared.",
        "Of the playing machines {machines} are not cleared.",
        len(left),
        machines=said(left),
    )


def _reach(players: Sequence[Found]) -> str:
    """How much worse the worst of these could still be: the highest upper limits of both ratios."""
    if not players:
        return ""
    alone = max(_high(row["ratio"]) for row in players)
    together = [_high(row["evened"]) for row in players if row["evened"] is not None]
    if math.isinf(alone):
        text = say("shared reels alone give no upper limit")
    else:
        text = say("the highest upper limit is {alone} times on shared reels alone", alone=figure(alone))
    if not together:
        return text
    most = figure(max(together))
    return say("{text}, the model of all reels together gives {together} times", text=text, together=most)


def _high(ratio: Found) -> float:
    return or_infinite(ratio["high"])


def _players_named(found: Found) -> list[str]:
    return [
        say(
            "Faults follow the playing machine {machine}: on the same reels it fails {ratio} as often as the other "
            "machines, whoever recorded them ({faults}; adjusted {p}).",
            machine=row["machine"],
            ratio=times_text(row["ratio"]),
            faults=counted(row["count"], "fault"),
            p=chance(row["adjusted_p"]),
        )
        for row in found["players"]
        if row["is_named"]
    ]


def _recordists_named(found: Found) -> list[str]:
    return [
        say(
            "Tapes recorded on the shift of {recordist} fail {ratio} as often as other tapes of the same recorders "
            "(adjusted {p}). A shift stands for all that was the same in it, not for a person's work.",
            recordist=recordist_word(row["recordist"]),
            ratio=times_text(row["ratio"]),
            p=chance(row["adjusted_p"]),
        )
        for row in found["recordists"]
        if row["is_named"]
    ]


def recordist_word(name: str | None) -> str:
    """Who recorded: a pseudonym in the pages' language, a name as it is; None is "not recorded"."""
    if name is None:
        return say("not recorded")
    word, _, number = name.partition(" ")
    return say("recordist {number}", number=number) if word == "recordist" and number.isdigit() else name


def _own_named(found: Found) -> list[str]:
    return [
        say(
            "Tapes of {machine} fail {ratio} as often on other machines as on itself, with the players allowed for "
            "(adjusted {p}): so do the tapes of a machine that records slightly off and plays with the same error.",
            machine=row["machine"],
            ratio=times_text(row["own"]["ratio"]),
            p=chance(row["own"]["adjusted_p"]),
        )
        for row in found["recorders"]
        if row["own"]["is_named"]
    ]


def _reels_named(found: Found) -> list[str]:
    spread = found["spread"]
    if not spread["is_named"]:
        return []
    return [
        say(
            "Some reels are worse than others, whoever recorded and played them (adjusted {p}); those to look at first "
            "are listed below.",
            p=chance(spread["adjusted_p"]),
        )
    ]
