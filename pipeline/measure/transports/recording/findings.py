"""What the cells of playback say of each player, recorder, shift and reel, as plain values."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.measure.transports.recording.effects import (
    TIMES_WORSE,
    Effects,
    chance_to_find_players,
    chance_to_find_recorders,
    fit_effects,
    inseparable_groups,
    reels_to_look_at,
)
from pipeline.measure.transports.recording.judging import (
    LEVEL,
    Tested,
    adjust,
    elsewhere_and_own,
    most_played,
    own_ratio,
    player_ratio,
    run_tests,
    shared_turns,
)
from pipeline.measure.transports.recording.units import NOT_RECORDED, labelled, reels_of

MOST_REELS_SHOWN = 12
Row = dict[str, Any]


class Judgements:
    """All tests of the page, adjusted together; asked for by kind and name."""

    def __init__(self, tests: list[Tested]) -> None:
        """Adjust them."""
        self.count = len(tests)
        self._p = {(test.kind, test.name): test.p for test in tests}
        self._adjusted = adjust(tests)

    def of(self, kind: str, name: str) -> Row:
        """p, adjusted p (None: not tested) and whether it is named."""
        adjusted = self._adjusted.get((kind, name))
        named = adjusted is not None and adjusted < LEVEL
        return {"p": self._p.get((kind, name)), "adjusted_p": adjusted, "is_named": named}


def judge_recording(cells: pl.DataFrame) -> Row:
    """Everything the page says, from cells alone: machine, reel, role, recorder, recorded_by, exposure_h, count.

    Named is who has an adjusted p below 0.05, by Holm over every test of the page: one a player, a recorder, a shift, a
    recorder's tapes elsewhere against on itself, and one of the spread between reels. A player is cleared where it is
    not named and the lower limit of its ratio on the same reels is at most 1; one that shares no faulty reel is not.
    """
    known = labelled(cells)
    effects = fit_effects(known) if known.height else None
    tests = run_tests(cells)
    if effects is not None and effects.reel_spread_p is not None:
        tests.append(Tested("spread", "reels", effects.reel_spread_p))
    judged = Judgements(tests)
    found = {
        "level": LEVEL,
        "times_worse": TIMES_WORSE,
        "tests_count": judged.count,
        "names_count": {
            "players": cells.drop_nulls("reel")["machine"].n_unique(),
            "recorders": known["recorder"].n_unique(),
            "recordists": known.filter(pl.col("person") != NOT_RECORDED)["person"].n_unique(),
        },
        "players": _players(cells, effects, judged),
        "recorders": [],
        "recordists": [],
        "reels": [],
        "reels_count": 0,
        "spread": _spread(effects, judged),
        "inseparable": [],
        "cells": [],
    }
    return found | (_tapes(known, effects, judged) if known.height else {})


def _tapes(known: pl.DataFrame, effects: Effects | None, judged: Judgements) -> Row:
    reels = reels_of(known)
    return {
        "recorders": _recorders(known, effects, judged),
        "recordists": _recordists(known, effects, judged),
        "reels": reels_to_look_at(reels, effects, MOST_REELS_SHOWN),
        "reels_count": len(reels.reels),
        "inseparable": inseparable_groups(known),
        "cells": _table(known),
    }


def _players(cells: pl.DataFrame, effects: Effects | None, judged: Judgements) -> list[Row]:
    turns = shared_turns(cells)
    names = most_played(turns, "machine")
    evened = effects.ratios("player") if effects else {}
    chances = chance_to_find_players(turns, names, judged.count)
    rows = []
    for name in names:
        row = player_ratio(turns, name) | judged.of("player", name)
        low = row["ratio"]["low"] or 0.0
        is_cleared = row["p"] is not None and not row["is_named"] and low <= 1.0
        found = None if row["p"] is None else chances[name]
        rows.append(row | {"is_cleared": is_cleared, "evened": evened.get(name), "found_ratio": found})
    return rows


def _recorders(known: pl.DataFrame, effects: Effects | None, judged: Judgements) -> list[Row]:
    evened = effects.ratios("recorder") if effects else {}
    chances = chance_to_find_recorders(known, judged.count)
    rows = []
    for name in most_played(known, "recorder"):
        mine, judgement = known.filter(pl.col("recorder") == name), judged.of("recorder", name)
        rows.append({
            "machine": name,
            **_sums(mine),
            "players_count": mine["machine"].n_unique(),
            "expected": float(mine["expected"].sum()),
            "ratio": evened.get(name),
            "found_ratio": None if judgement["p"] is None else chances.get(name),
            "own": own_ratio(known, name, elsewhere_and_own(known, name)) | judged.of("own", name),
            **judgement,
        })  # fmt: skip
    return rows


def _recordists(known: pl.DataFrame, effects: Effects | None, judged: Judgements) -> list[Row]:
    evened = effects.ratios("person") if effects else {}
    return [
        {
            "recordist": name,
            **_sums(known.filter(pl.col("person") == name)),
            "ratio": evened.get(name),
            **judged.of("recordist", name),
        }
        for name in most_played(known, "person")
        if name != NOT_RECORDED
    ]


def _sums(mine: pl.DataFrame) -> Row:
    return {
        "reels_count": mine["reel"].n_unique(),
        "count": int(mine["count"].sum()),
        "exposure_h": float(mine["exposure_h"].sum()),
    }


def _spread(effects: Effects | None, judged: Judgements) -> Row:
    found = effects.fit.factors.get("reel") if effects else None
    return {
        "variance": float(found.variance) if found else None,
        "left_out_count": effects.reels_left_out if effects else 0,
    } | judged.of("spread", "reels")


def _table(known: pl.DataFrame) -> list[Row]:
    """Faults and hours of every player and recorder that met, of those with most hours."""
    players, recorders = most_played(known, "machine"), most_played(known, "recorder")
    met = known.filter(pl.col("machine").is_in(players) & pl.col("recorder").is_in(recorders))
    summed = met.group_by("machine", "recorder", maintain_order=True).agg(pl.col("count", "exposure_h").sum())
    return summed.rename({"machine": "player"}).sort("player", "recorder").to_dicts()
