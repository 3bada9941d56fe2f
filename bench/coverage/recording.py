"""Player, recorder or reel: false names in rooms where nobody is worse, and a planted recorder that must be found.

Rooms have four recorders, five players, 240 reels (about sixty a recorder) on two shifts, and each reel is played on
three machines in turn. Each kind of room goes through the doors that the page goes through.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_between
from pipeline.measure.transports.recording.judging import names_of, player_ratio, run_tests, shared_turns
from pipeline.statistics import crossed_poisson, find_inseparable
from pipeline.statistics.arguments import FloatArray

_PLAYERS, _RECORDERS, _REELS, _TURNS = 5, 4, 240, 3  # sixty reels a recorder, about
_FAULTS_PER_H = 0.15
_WHOLE_SHARE, _FIT_SHARE = 4, 40  # one room in so many: the whole rule and the whole model take long
Rates = Callable[[np.random.Generator, "Room"], FloatArray]


@dataclass(frozen=True, eq=False)
class Room:
    """Who recorded and who played; one entry a cell of player, reel and role."""

    player: np.ndarray
    reel: np.ndarray
    recorder: np.ndarray  # of each reel
    shift: np.ndarray  # of each reel
    role: np.ndarray
    hours: FloatArray


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the naming rule, the limits and the search for what cannot be told apart against rooms that are known."""
    draws = np.random.default_rng([seed, 77])
    whole, fits = max(1, rooms // _WHOLE_SHARE), max(1, rooms // _FIT_SHARE)
    return [
        _false_names(draws, whole, "identical machines and reels", _same),
        _false_names(draws, whole, "reels that differ (gamma, coefficient of variation 1)", _uneven_reels),
        _false_names(draws, whole, "one reel in 240 with 40 times the faults", _one_bad_reel),
        _false_tapes(draws, whole),
        *_planted(draws, max(1, whole // 2)),
        _false_beside_bad(draws, max(1, whole // 2)),
        *_cover(draws, fits),
        _find_cut_off(draws, rooms),
    ]


def _draw_room(draws: np.random.Generator) -> Room:
    recorder, shift = draws.integers(0, _RECORDERS, _REELS), draws.integers(0, 2, _REELS)
    reel = np.repeat(np.arange(_REELS), _TURNS)
    player = np.concatenate([draws.permutation(_PLAYERS)[:_TURNS] for _ in range(_REELS)])
    role = draws.integers(0, 2, reel.size)
    hours = draws.gamma(4.0, 0.5, reel.size) * np.where(recorder == 0, 1.5, 1.0)[reel]  # one recorder is played more
    return Room(player, reel, recorder, shift, role, hours)


def _same(draws: np.random.Generator, room: Room) -> FloatArray:  # noqa: ARG001 - nothing is drawn
    """Faults an hour of every cell; on air closer watched than under protection."""
    return np.asarray(_FAULTS_PER_H * np.where(room.role == 0, 1.0, 0.3))


def _uneven_reels(draws: np.random.Generator, room: Room) -> FloatArray:
    return np.asarray(_same(draws, room) * draws.gamma(1.0, 1.0, _REELS)[room.reel])


def _one_bad_reel(draws: np.random.Generator, room: Room) -> FloatArray:
    return np.asarray(_same(draws, room) * np.where(room.reel == draws.integers(0, _REELS), 40.0, 1.0))


def _uneven_players(draws: np.random.Generator, room: Room) -> FloatArray:
    return np.asarray(_same(draws, room) * np.linspace(0.6, 1.8, _PLAYERS)[room.player])


def _bad_recorder(draws: np.random.Generator, room: Room) -> FloatArray:
    return np.asarray(_uneven_reels(draws, room) * np.where(room.recorder == 0, 4.0, 1.0)[room.reel])


def _cells(room: Room, counts: np.ndarray) -> pl.DataFrame:
    return pl.DataFrame({
        "machine": [f"P{one}" for one in room.player],
        "reel": [f"K{one:03}" for one in room.reel],
        "role": [("air", "protect")[one] for one in room.role],
        "recorder": [f"P{one}" for one in room.recorder[room.reel]],
        "recorded_by": [f"shift {one}" for one in room.shift[room.reel]],
        "exposure_h": room.hours,
        "count": counts.astype(np.int64),
    })  # fmt: skip


def _draw_cells(draws: np.random.Generator, rates: Rates) -> pl.DataFrame:
    room = _draw_room(draws)
    return _cells(room, draws.poisson(rates(draws, room) * room.hours))


def _false_names(draws: np.random.Generator, rooms: int, what: str, rates: Rates) -> Claim:
    """Rooms in which no player, recorder or shift is worse than another."""
    hits = sum(bool(names_of(run_tests(_draw_cells(draws, rates)))) for _ in range(rooms))
    return claim_at_most(f"anybody is named; {what}", hits, rooms, 0.05)


def _false_tapes(draws: np.random.Generator, rooms: int) -> Claim:
    """Rooms in which players do differ, so that only a recorder or a shift is named falsely."""
    hits = 0
    for _ in range(rooms):
        named = names_of(run_tests(_draw_cells(draws, _uneven_players)))
        hits += any(kind != "player" for kind, _ in named)
    return claim_at_most("a recorder or a shift is named; players differ by up to three times", hits, rooms, 0.05)


def _planted(draws: np.random.Generator, rooms: int) -> list[Claim]:
    """A recorder four times as bad among uneven reels: it is named, nobody else is, and the players are cleared.

    All five lower limits are at most 1 with a chance of at least 1 − 5 × 0.025 = 0.875.
    """
    found = others = cleared = 0
    for _ in range(rooms):
        cells = _draw_cells(draws, _bad_recorder)
        named = names_of(run_tests(cells))
        turns = shared_turns(cells)
        lows = [player_ratio(turns, f"P{one}")["ratio"]["low"] or 0.0 for one in range(_PLAYERS)]
        found += ("recorder", "P0") in named
        others += bool(named - {("recorder", "P0")})
        cleared += max(lows) <= 1.0 and not any(kind == "player" for kind, _ in named)
    case = "one recorder of four is four times as bad, reels differ (coefficient of variation 1)"
    return [
        claim_at_least(f"the bad recorder is named; {case}", found, rooms, 0.9),
        claim_at_most(f"anybody else is named; {case}", others, rooms, 0.05),
        claim_at_least(f"every player is cleared; {case}", cleared, rooms, 0.875),
    ]


def _false_beside_bad(draws: np.random.Generator, rooms: int) -> Claim:
    """The bad recorder hides behind its player here, for six tapes in ten are played on the machine that made them."""
    hits = 0
    for _ in range(rooms):
        room = _draw_room(draws)
        own = draws.random(room.player.size) < 0.6
        room = replace(room, player=np.where(own, room.recorder[room.reel], room.player))
        cells = _cells(room, draws.poisson(_bad_recorder(draws, room) * room.hours))
        keys = [name for name in cells.columns if name not in {"exposure_h", "count"}]
        met = cells.group_by(keys).agg(pl.col("exposure_h", "count").sum()).sort(keys)
        hits += bool(names_of(run_tests(met)) - {("recorder", "P0")})
    case = "one recorder of four is four times as bad, six tapes of ten are played on their own recorder"
    return claim_at_most(f"anybody else is named; {case}", hits, rooms, 0.05)


def _cover(draws: np.random.Generator, rooms: int) -> list[Claim]:
    """Limits of effects drawn from the model's own law, counted over all players and all recorders."""
    inside = {"player": 0, "recorder": 0}
    for _ in range(rooms):
        room = _draw_room(draws)
        truth = {"player": draws.normal(0.0, 0.4, _PLAYERS), "recorder": draws.normal(0.0, 0.6, _RECORDERS)}
        logs = truth["player"][room.player] + truth["recorder"][room.recorder[room.reel]]
        rates = _uneven(draws, room) * np.exp(logs)
        cells = _cells(room, draws.poisson(rates * room.hours))
        for name, share in _covered(cells, truth).items():
            inside[name] += share
    return [
        claim_between(
            f"95 % limits of a {name}'s ratio to the others cover it; effects drawn from the model", inside[name],
            rooms * (_PLAYERS if name == "player" else _RECORDERS), 0.92, 0.98,
        )
        for name in inside
    ]  # fmt: skip


def _uneven(draws: np.random.Generator, room: Room) -> FloatArray:
    return np.asarray(_same(draws, room) * np.exp(draws.normal(0.0, 0.5, _REELS))[room.reel])


def _covered(cells: pl.DataFrame, truth: dict[str, FloatArray]) -> dict[str, int]:
    columns = {"player": "machine", "recorder": "recorder", "reel": "reel", "person": "recorded_by", "role": "role"}
    labels = {name: cells[column].to_list() for name, column in columns.items()}
    fit = crossed_poisson(cells["count"], cells["exposure_h"], labels, off_zero=True)
    found = {}
    for name, values in truth.items():
        effects = fit.factors[name]
        hours = {row[0]: row[1] for row in cells.group_by(columns[name]).agg(pl.col("exposure_h").sum()).iter_rows()}
        weights = np.array([hours[level] for level in effects.levels]) / sum(hours.values())
        true = np.array([values[int(level[1:])] for level in effects.levels])
        ratio = np.exp((true - weights @ true) / (1.0 - weights))
        found[name] = int(((effects.low <= ratio) & (ratio <= effects.high)).sum())
    return found


def _find_cut_off(draws: np.random.Generator, rooms: int) -> Claim:
    """A recorder whose tapes are all played on one machine, which plays no others."""
    hits = 0
    for _ in range(rooms):
        players = draws.integers(0, _PLAYERS - 1, 30)
        recorders = draws.integers(0, _RECORDERS - 1, 30)
        mine = np.arange(30) < 3
        first = ["P9" if own else f"P{one}" for own, one in zip(mine, players, strict=True)]
        second = ["R9" if own else f"R{one}" for own, one in zip(mine, recorders, strict=True)]
        found = find_inseparable(np.ones(30), first, second)
        hits += any(one.first == ("P9",) and one.second == ("R9",) and one.is_cut_off for one in found)
    return claim_at_least("a player and a recorder that met nobody else are told to be inseparable", hits, rooms, 0.999)
