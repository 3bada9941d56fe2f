"""An invented room from its files to its page: one recorder's tapes fail four times as often, on whatever plays them.

240 reels, 60 recorded on each of four machines, are shown three times each on six machines, two at a time, one on air
and one as protect. Every fault is written here, so that counts and hours on the page are known to the last one.
"""

from __future__ import annotations

import csv
import json
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from pipeline.flow import run_site

SEED = 4
REELS, RECORDERS, PLAYERS, SHOWINGS = 240, 4, 6, 3
BAD = "VT2"
FAULTS_PER_SHOWING, TIMES_WORSE = 0.07, 4.0
FAULT = timedelta(seconds=20)
FIRST = datetime.fromisoformat("2031-03-03T06:00")
COLUMNS = {
    "events/log.csv": "at,machine,event,value,detail",
    "switches.csv": "at,action,channel,from_machine,to_machine,reason,by",
    "tickets.csv": (
        "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,written_by"
    ),
    "bookings.csv": "booking,transmission,channel,programme,show,reel,machine,role,starts,ends",
    "machines.csv": "machine,kind,pair,group,installed,retired,replacement_cost",
    "reels.csv": "reel,programme,show,recorded_on,recorded_by,recorded_at",
}


@dataclass
class Planted:
    """The files' rows, and what they hold: faults and showings by player and recorder."""

    rows: dict[str, list[Sequence[Any]]] = field(default_factory=lambda: {name: [] for name in COLUMNS})
    faults: Counter[tuple[str, str]] = field(default_factory=Counter)
    showings: Counter[tuple[str, str]] = field(default_factory=Counter)


def machine(number: int) -> str:
    return f"VT{number + 1}"


def plant(times_worse: float) -> Planted:
    """Reels in a shuffled order, two to a transmission of an hour, on two machines drawn anew each time."""
    planted, draw = Planted(), random.Random(SEED)
    reels = [(f"K{number:04}", machine(number % RECORDERS)) for number in range(REELS)]
    planted.rows["machines.csv"] += [(machine(one), "transport", "", "", "", "", "") for one in range(PLAYERS)]
    planted.rows["reels.csv"] += [
        (reel, "Moss", "part 1", recorder, f"crew {draw.randrange(2)}", "2031-02-01T10:00") for reel, recorder in reels
    ]
    shown = [reel for _ in range(SHOWINGS) for reel in draw.sample(reels, REELS)]
    for number in range(0, len(shown), 2):
        start = FIRST + number // 2 * timedelta(minutes=70)
        players = draw.sample([machine(one) for one in range(PLAYERS)], 2)
        for role, player, (reel, recorder) in zip(("air", "protect"), players, shown[number : number + 2], strict=True):
            times = times_worse if recorder == BAD else 1.0
            spot = (10 if role == "air" else 35) + 15 * draw.random()  # never on both at once
            show(planted, (start, f"TX{number // 2:03}", role, spot), (player, reel, recorder))
            if draw.random() < FAULTS_PER_SHOWING * times:
                lose_picture(planted, start + timedelta(minutes=round(spot, 2)), player)
                planted.faults[player, recorder] += 1
    return planted


def show(planted: Planted, when: tuple[datetime, str, str, float], what: tuple[str, str, str]) -> None:
    """Book and play one reel: it rolls before air and stops just after it."""
    (start, transmission, role, _), (player, reel, recorder) = when, what
    end = start + timedelta(hours=1)
    booking = f"{transmission}-{role}"
    planted.rows["bookings.csv"].append(
        (booking, transmission, "One", "Moss", "part 1", reel, player, role, start.isoformat(), end.isoformat())
    )
    for at, event in ((-30, "roll"), (-26, "lock"), (3601, "stop")):
        planted.rows["events/log.csv"].append(((start + timedelta(seconds=at)).isoformat(), player, event, "", ""))
    planted.showings[player, recorder] += 1


def lose_picture(planted: Planted, at: datetime, player: str) -> None:
    for when, event in ((at, "picture_lost"), (at + FAULT, "picture_back")):
        planted.rows["events/log.csv"].append((when.isoformat(), player, event, "", ""))


def write_site(site: Path, planted: Planted) -> Path:
    """The files of the contract, at their default names."""
    (site / "events").mkdir(parents=True)
    (site / "site.toml").write_text(
        'name = "Invented room"\ntimezone = "UTC"\nday_starts = "00:00"\nframe_rate = 25\n', encoding="utf-8"
    )
    for name, header in COLUMNS.items():
        rows = sorted(planted.rows[name], key=lambda row: str(row[0]))
        with (site / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header.split(","), *rows])
    return site


def run(site: Path, out: Path) -> tuple[dict[str, Any], str]:
    """What the page is made of, and the page as text."""
    result = run_site(site, out=out, narrate=lambda _: None)
    figures = json.loads((result.index.parent / "data" / "figures.json").read_text(encoding="utf-8"))
    page = (result.index.parent / "recording.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    return figures["transports"]["recording"], page


@pytest.mark.slow
def test_the_recorder_is_named_and_the_players_are_cleared(tmp_path: Path) -> None:
    planted = plant(TIMES_WORSE)
    found, page = run(write_site(tmp_path / "site", planted), tmp_path / "out")
    named = [(row["machine"], row["ratio"]) for row in found["recorders"] if row["is_named"]]
    assert [name for name, _ in named] == [BAD]
    assert named[0][1]["low"] > 1.5
    assert named[0][1]["low"] < TIMES_WORSE < named[0][1]["high"]
    assert [row["machine"] for row in found["players"] if row["is_named"] or not row["is_cleared"]] == []
    assert [row for row in found["recordists"] if row["is_named"]] == []
    assert [row for row in found["recorders"] if row["own"]["is_named"]] == []
    assert f"Faults follow the recorder {BAD}: its tapes fail" in page
    assert "The playing machines are cleared" in page
    assert "crew" not in page
    # Every fault and every hour: an hour a showing, less the 20 s of each fault in it.
    assert found["faults"]["counted_count"] == sum(planted.faults.values())
    cells = {(row["player"], row["recorder"]): row for row in found["cells"]}
    assert {key: row["count"] for key, row in cells.items() if row["count"]} == dict(planted.faults)
    for key, showings in planted.showings.items():
        hours = showings - planted.faults[key] * FAULT.total_seconds() / 3600
        assert cells[key]["exposure_h"] == pytest.approx(hours, abs=1e-9)


@pytest.mark.slow
def test_nobody_is_named_where_nobody_is_worse(tmp_path: Path) -> None:
    found, page = run(write_site(tmp_path / "site", plant(1.0)), tmp_path / "out")
    rows = [*found["players"], *found["recorders"], *found["recordists"], *(row["own"] for row in found["recorders"])]
    assert [row for row in rows if row["is_named"]] == []
    assert "Nothing points to one player, recorder or shift" in page
    assert "a recorder three times as bad as the others" in page
