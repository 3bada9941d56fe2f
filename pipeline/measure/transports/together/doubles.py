"""The events that struck two machines of one transmission, one by one, as the page lists them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.measure.coincidences import Faults
from pipeline.measure.transports.together.counts import Key, PairCount, Row, key_of

SAME_SPOT_S = 0.5  # as on an incident's page: two machines in step that lose the same no further apart
PLAYED = frozenset({"picture lost", "sound lost"})


def list_doubles(pairs: Sequence[PairCount], chains: Mapping[Key, int], faults: Faults) -> list[dict[str, Any]]:
    """The events that struck two machines of one transmission, in order of time.

    ``neither_s``: until one of the two ran well again, the shortest where there were several pairs. ``elsewhere``:
    machines that failed with them and were of no transmission with any of them.
    """
    members: dict[int, dict[Key, Row]] = {}
    neither: dict[int, float] = {}
    for pair in pairs:
        for double, wait_s in zip(pair.doubles, pair.neither_s, strict=True):
            number = chains[key_of(double[0])]
            members.setdefault(number, {}).update((key_of(row), row) for row in double)
            neither[number] = min(wait_s, neither.get(number, wait_s))
    touched: dict[int, set[str]] = {number: set() for number in members}
    for onset in faults.onsets:
        if (number := chains[key_of(onset)]) in touched:
            touched[number].add(onset["machine"])
    return [
        {**_double(list(members[number].values()), touched[number]), "neither_s": neither[number]}
        for number in sorted(members)
    ]


def _double(onsets: list[Row], touched: set[str]) -> dict[str, Any]:
    """``is_same_spot``: all lost picture, or all sound, within ``SAME_SPOT_S`` and what their clocks leave open."""
    ordered = sorted(onsets, key=lambda row: (row["at_utc"], row["machine"]))
    machines = sorted({row["machine"] for row in ordered})
    first = {name: next(row for row in ordered if row["machine"] == name) for name in machines}
    begins = [row["at_utc"] for row in first.values()]
    apart_s = (max(begins) - min(begins)).total_seconds()
    margin_s = _joint(list(first.values()))
    what = {row.get("what") for row in first.values()}
    return {
        "at": f"{ordered[0]['at_utc'].isoformat()}Z",
        "machines": machines,
        "apart_s": apart_s,
        "within_s": margin_s,
        "what": [f"{name} {row.get('what')}" for name, row in first.items()],
        "kinds": [row.get("what") for row in first.values()],
        "is_same_spot": len(what) == 1 and what <= PLAYED and apart_s <= SAME_SPOT_S + (margin_s or 0.0),
        "reels": sorted({row["reel"] for row in ordered if row.get("reel")}),
        "incidents": sorted({row["incident"] for row in ordered if row.get("incident")}),
        "elsewhere": sorted(touched - set(machines)),
    }


def recordings(doubles: Sequence[Mapping[str, Any]]) -> dict[tuple[str, ...], list[Mapping[str, Any]]]:
    """The doubles at the same spot of both copies whose reels are known, by these reels: one recording each."""
    found: dict[tuple[str, ...], list[Mapping[str, Any]]] = {}
    for double in doubles:
        if double["is_same_spot"] and double["reels"]:
            found.setdefault(tuple(double["reels"]), []).append(double)
    return found


def reels_elsewhere(machines: Sequence[str], doubles: Sequence[Mapping[str, Any]]) -> list[str] | None:
    """The reels behind all doubles of a pair, where every one is of a recording that failed on another pair too.

    None where some double of the pair is not, or there is none: then the pair may share a cause of its own.
    """
    own = [double for double in doubles if set(machines) <= set(double["machines"])]
    wandering = [
        double
        for played in recordings(doubles).values()
        if any(not set(machines) <= set(double["machines"]) for double in played)
        for double in played
    ]
    if not own or any(double not in wandering for double in own):
        return None
    return sorted({reel for double in own for reel in double["reels"]})


def _joint(rows: Sequence[Row]) -> float | None:
    """What the clocks of all leave open of the time between them: the sum of their ±; None where one is not known."""
    margins = [row.get("within_s") for row in rows]
    return None if None in margins else sum(margin for margin in margins if margin is not None)
