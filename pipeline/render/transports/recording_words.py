"""What the faults at playback say, in sentences: the recorder, the player, the shift, the reels, or nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

from pipeline.render.transports.recording_ratios import NAMES_SAID, or_infinite, said, times_text
from pipeline.render.words import chance, counted, figure, hours, percent, times

Found = Mapping[str, Any]
HOUR_S = 3600
NOTHING_PLAYED = (
    "No machine is known to have run well while it was booked to play a reel, so nothing can be compared. Needed are "
    "bookings that name their reels, labels that say where reels were recorded, and the machines' logs."
)
NO_LABELS = (
    "no label says which machine recorded, so recorders cannot be held against players. Needed is the register of "
    "reels with recorded_on."
)


def opening(found: Found) -> list[str]:
    """The answer and how sure it is, in sentences that can be read aloud."""
    faults = found["faults"]
    if not faults["played_h"]:
        return [NOTHING_PLAYED]
    if not found["cells"]:
        played = hours(faults["played_h"] * HOUR_S)
        return [f"On the reels of {played} of playback {NO_LABELS}", *_players_named(found)]
    if not faults["counted_count"]:
        played = hours(faults["played_h"] * HOUR_S)
        return [f"No fault began in {played} of playback, so there is nothing to lay on a player, recorder or reel."]
    named = [*_recorders_named(found), *_players_named(found), *_recordists_named(found), *_own_named(found)]
    return [*(named or [_nothing(found)]), *_reels_named(found), *_inseparable(found["inseparable"])]


def _recorders_named(found: Found) -> list[str]:
    lines = [
        f"Faults follow the recorder {row['machine']}: its tapes fail {times_text(row['ratio'])} as often as those of "
        f"the other recorders, with the players allowed for, on the {counted(row['players_count'], 'machine')} that "
        f"played them ({counted(row['count'], 'fault')} on {counted(row['reels_count'], 'reel')}; adjusted "
        f"{chance(row['adjusted_p'])})."
        for row in found["recorders"]
        if row["is_named"]
    ]
    return [*lines, _cleared(found["players"])] if lines else []


def _cleared(players: Sequence[Found]) -> str:
    """Whether the playing machines are out of it."""
    judged = [row for row in players if row["p"] is not None]
    left = [row["machine"] for row in judged if not row["is_cleared"]]
    untested = len(players) - len(judged)
    if not judged:
        return "The playing machines are not cleared: none shares a faulty reel with another."
    reach = _reach([row for row in judged if row["is_cleared"]])
    if not left:
        rest = f" {counted(untested, 'machine')} shared no faulty reel and could not be judged." if untested else ""
        return (
            "The playing machines are cleared: on the same reels none of them fails more often than the others beyond "
            f"what luck gives ({reach}).{rest}"
        )
    middle = f", the others are ({reach})" if reach else ""
    return f"Of the playing machines {said(left)} {'is' if len(left) == 1 else 'are'} not cleared{middle}."


def _reach(players: Sequence[Found]) -> str:
    """How much worse the worst of these could still be: the highest upper limits of both ratios."""
    if not players:
        return ""
    alone = max(_high(row["ratio"]) for row in players)
    whole = [_high(row["evened"]) for row in players if row["evened"] is not None]
    text = f"the highest upper limit is {figure(alone)} times on shared reels alone"
    if math.isinf(alone):
        text = "shared reels alone give no upper limit"
    return f"{text}, the model of all reels together gives {figure(max(whole))} times" if whole else text


def _high(ratio: Found) -> float:
    return or_infinite(ratio["high"])


def _players_named(found: Found) -> list[str]:
    return [
        f"Faults follow the playing machine {row['machine']}: on the same reels it fails {times_text(row['ratio'])} as "
        f"often as the other machines, whoever recorded them ({counted(row['count'], 'fault')}; adjusted "
        f"{chance(row['adjusted_p'])})."
        for row in found["players"]
        if row["is_named"]
    ]


def _recordists_named(found: Found) -> list[str]:
    return [
        f"Tapes recorded on the shift of {row['recordist']} fail {times_text(row['ratio'])} as often as other tapes of "
        f"the same recorders (adjusted {chance(row['adjusted_p'])}). A shift stands for all that was the same in it, "
        "not for a person's work."
        for row in found["recordists"]
        if row["is_named"]
    ]


def _own_named(found: Found) -> list[str]:
    return [
        f"Tapes of {row['machine']} fail {times_text(row['own']['ratio'])} as often on other machines as on itself, "
        f"with the players allowed for (adjusted {chance(row['own']['adjusted_p'])}): so do the tapes of a machine "
        "that records slightly off and plays with the same error."
        for row in found["recorders"]
        if row["own"]["is_named"]
    ]


def _reels_named(found: Found) -> list[str]:
    spread = found["spread"]
    if not spread["is_named"]:
        return []
    text = (
        "Some reels are worse than others, whoever recorded and played them (adjusted "
        f"{chance(spread['adjusted_p'])}); those to look at first are listed below."
    )
    return [text]


def _nothing(found: Found) -> str:
    faults, worse = found["faults"], times(round(found["times_worse"]))
    size = f"{counted(faults['counted_count'], 'fault')} in {hours(faults['played_h'] * HOUR_S)} of playback"
    text = _held_apart(found, size)
    parts = []
    for kind, rows in (("recorder", found["recorders"]), ("playing machine", found["players"])):
        chances = [row["found_ratio"] for row in rows if row["found_ratio"] is not None]
        if chances:
            parts.append(f"a {kind} {worse} as bad as the others ({_spanned(chances, kind)})")
    return f"{text} These hours would have found {' and '.join(parts)}." if parts else text


def _held_apart(found: Found, size: str) -> str:
    """That nothing stands out among those that could be held against each other, and who could not be."""
    kinds = {"player": found["players"], "recorder": found["recorders"], "shift": found["recordists"]}
    judged = [kind for kind, rows in kinds.items() if any(row["p"] is not None for row in rows)]
    players = (
        ""
        if "player" in judged
        else " The playing machines could not be held against each other: no reel with a fault was played on two of "
        "them in one role."
    )
    if not judged:
        return f"Nobody could be held against anybody: {size} leave nothing to compare.{players}"
    names = " or ".join([*([", ".join(judged[:-1])] if judged[1:] else []), judged[-1]])
    return f"Nothing points to one {names}: {size} fall on them as luck easily lets them.{players}"


def _spanned(chances: Sequence[float], kind: str) -> str:
    low, high = percent(min(chances)), percent(max(chances))
    if low == high:
        return f"with a chance of {low}"
    return f"for the middle {kind} {percent(median(chances))}, from {low} to {high}"


def _inseparable(groups: Sequence[Found]) -> list[str]:
    cut, near = ([row for row in groups if row["is_cut_off"] is is_cut] for is_cut in (True, False))
    lines = [cut_off(row) for row in cut[:NAMES_SAID]]
    if len(cut) > NAMES_SAID:
        lines.append(f"{counted(len(cut) - NAMES_SAID, 'more such group')} stand in the table below.")
    if near:
        pairs = [f"{row['players'][0]} and the tapes of {row['recorders'][0]}" for row in near]
        lines.append(
            f"Hardly told apart, because they were mostly together: {said(pairs)}. A change of who plays whose tapes "
            "would tell."
        )
    return lines


def cut_off(row: Found) -> str:
    """A group of players and recorders that met nobody else, in words."""
    players, recorders = row["players"], row["recorders"]
    if len(players) == len(recorders) == 1:
        start = (
            f"Cannot be told apart: every tape of {recorders[0]} was played on {players[0]}, and {players[0]} played "
            "no others."
        )
    else:
        start = (
            f"Cannot be told apart as groups: {said(players)} played only tapes of {said(recorders)}, and these were "
            "played nowhere else."
        )
    ratio = row["ratio"]
    if ratio["value"] is None:
        return start
    return f"{start} Together they fail {times_text(ratio)} as often as the rest of the room; whose that is stays open."


def counted_words(faults: Found) -> list[str]:
    """What was counted and what was not, in sentences that add up."""
    first = (
        f"Counted: {counted(faults['counted_count'], 'fault')} that began while a machine ran well and was booked to "
        f"play, on air or as protect; {faults['air_count']:,} of them were an event on air. Together "
        f"{hours(faults['played_h'] * HOUR_S)} of playback."
    )
    lines = [first]
    if faults["common_count"]:
        lines.append(
            f"Not counted: {counted(faults['common_count'], 'fault')} that began within 5 s on both copies. The same "
            "fault on both copies at the same spot is in the feed or the recording, not in a player."
        )
    if faults["repeated_count"]:
        lines.append(
            f"Counted once with the one before: {counted(faults['repeated_count'], 'fault')} on the same machine and "
            "reel within the gap of one incident."
        )
    return lines


def not_known(found: Found) -> tuple[str, ...]:
    """What is not recorded."""
    faults, lines = found["faults"], []
    for name, what in (("no_reel", "bookings that name no reel"), ("no_label", "reels whose recorder no label tells")):
        if faults[f"{name}_h"]:
            size = f"{counted(faults[f'{name}_count'], 'fault')} in {hours(faults[f'{name}_h'] * HOUR_S)} of playback"
            lines.append(f"The recorder of {size}, with {what}.")
    if faults["not_booked_count"]:
        lines.append(f"The reel of {counted(faults['not_booked_count'], 'fault')} on machines not booked to play.")
    for kind, what in (("players", "player"), ("recorders", "recorder"), ("recordists", "shift")):
        untested = found["names_count"][kind] - len(found[kind])
        if untested:
            lines.append(f"{counted(untested, what)} with the fewest hours of playback: not tested.")
    left_out = found["spread"]["left_out_count"]
    if left_out:
        lines.append(f"{counted(left_out, 'reel')} with the fewest hours: not in the model, in the tests.")
    return (*lines, "What a machine played that was not booked on it, and faults that no machine logs.")
