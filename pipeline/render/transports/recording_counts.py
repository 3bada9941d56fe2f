"""What was counted of the faults at playback and what was not, in sentences that add up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say, say_counted, whole
from pipeline.render.transports.recording_nothing import faults_in, playback
from pipeline.render.words import counted

Found = Mapping[str, Any]


def counted_words(faults: Found) -> list[str]:
    """The faults that were counted, and those that were not."""
    first = say(
        "Counted: {faults} that began while a machine ran well and was booked to play, on air or as protect; {air} of "
        "them were an event on air. Together {playback}.",
        faults=counted(faults["counted_count"], "fault"),
        air=whole(faults["air_count"]),
        playback=playback(faults["played_h"]),
    )
    lines = [first]
    if faults["common_count"]:
        lines.append(
            say(
                "Not counted: {faults} that began within 5 s on both copies. The same fault on both copies at the same "
                "spot is in the feed or the recording, not in a player.",
                faults=counted(faults["common_count"], "fault"),
            )
        )
    if faults["repeated_count"]:
        lines.append(
            say(
                "Counted once with the one before: {faults} on the same machine and reel within the gap of one "
                "incident.",
                faults=counted(faults["repeated_count"], "fault"),
            )
        )
    return lines


def not_known(found: Found) -> tuple[str, ...]:
    """What is not recorded."""
    return (
        *_no_recorder(found["faults"]),
        *_untested(found),
        say("What a machine played that was not booked on it, and faults that no machine logs."),
    )


def _no_recorder(faults: Found) -> list[str]:
    lines = []
    if faults["no_reel_h"]:
        size = faults_in(faults["no_reel_count"], faults["no_reel_h"])
        lines.append(say("The recorder of {size}, with bookings that name no reel.", size=size))
    if faults["no_label_h"]:
        size = faults_in(faults["no_label_count"], faults["no_label_h"])
        lines.append(say("The recorder of {size}, with reels whose recorder no label tells.", size=size))
    if faults["not_booked_count"]:
        text = say_counted(
            "The reel of {n} fault on machines not booked to play.",
            "The reel of {n} faults on machines not booked to play.",
            faults["not_booked_count"],
        )
        lines.append(text)
    return lines


def _untested(found: Found) -> list[str]:
    untested = {kind: count - len(found[kind]) for kind, count in found["names_count"].items()}
    lines = []
    if count := untested["players"]:
        lines.append(say("{players} with the fewest hours of playback: not tested.", players=counted(count, "player")))
    if count := untested["recorders"]:
        told = counted(count, "recorder")
        lines.append(say("{recorders} with the fewest hours of playback: not tested.", recorders=told))
    if count := untested["recordists"]:
        lines.append(say("{shifts} with the fewest hours of playback: not tested.", shifts=counted(count, "shift")))
    if count := found["spread"]["left_out_count"]:
        lines.append(
            say("{reels} with the fewest hours: not in the model, in the tests.", reels=counted(count, "reel"))
        )
    return lines
