"""Players and recorders that cannot be told apart, in sentences: by who played whose tapes, whatever the faults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.language import say, say_counted
from pipeline.render.transports.recording_ratios import NAMES_SAID, said, times_text

Found = Mapping[str, Any]


def inseparable(groups: Sequence[Found]) -> list[str]:
    """The groups that met nobody else, a sentence each, and those that hardly did, in one."""
    cut, near = ([row for row in groups if row["is_cut_off"] is is_cut] for is_cut in (True, False))
    lines = [cut_off(row) for row in cut[:NAMES_SAID]]
    if len(cut) > NAMES_SAID:
        more = say_counted(
            "{n} more such group stands in the table below.",
            "{n} more such groups stand in the table below.",
            len(cut) - NAMES_SAID,
        )
        lines.append(more)
    if near:
        pairs = [
            say("{player} and the tapes of {recorder}", player=row["players"][0], recorder=row["recorders"][0])
            for row in near
        ]
        text = say(
            "Hardly told apart, because they were mostly together: {pairs}. A change of who plays whose tapes would "
            "tell.",
            pairs=said(pairs),
        )
        lines.append(text)
    return lines


def cut_off(row: Found) -> str:
    """A group of players and recorders that met nobody else, in words."""
    players, recorders = row["players"], row["recorders"]
    if len(players) == len(recorders) == 1:
        start = say(
            "Cannot be told apart: every tape of {recorder} was played on {player}, and {player} played no others.",
            recorder=recorders[0],
            player=players[0],
        )
    else:
        start = say(
            "Cannot be told apart as groups: {players} played only tapes of {recorders}, and these were played nowhere "
            "else.",
            players=said(players),
            recorders=said(recorders),
        )
    ratio = row["ratio"]
    if ratio["value"] is None:
        return start
    together = say(
        "Together they fail {ratio} as often as the rest of the room; whose that is stays open.",
        ratio=times_text(ratio),
    )
    return f"{start} {together}"
