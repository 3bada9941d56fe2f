"""One small room worked by hand, from its lines as they stand below to the true answer.

One channel, one pair, four transmissions, no chatter. Its lines that matter (bookings; v is VT02, w is VT01):

    TX0  v  air, w protect    28 Feb 23:21:43 – 00:41:43                                     80 min = 4800 s
         v  sound_lost 23:31:47.485060   take v→w 23:31:47.976982   v sound_back 23:32:53.521128
    TX1  w  air, v protect     1 Mar 05:18:30 – 06:08:30                                     50 min = 3000 s
         w  unlock 05:26:43.833596   take w→v 05:26:54.002288   w lock 05:30:07.706520   offset 05:30:59.000552
    TX2  v  air, w protect           11:20:47 – 14:00:47                                    160 min = 9600 s
    TX3  v  air, w protect           17:22:36 – 19:45:36                                    143 min = 8580 s
         take v→w 18:34:51.245444, with no reason, both machines good and no alarm

TX0  covered before   23:21:43 – 23:31:47.485060                  604.485060
     lost             until the take                                0.491922
     exposed          w feeds, v not good until 23:32:53.521128    65.544146
     covered after    4800 − the three                           4129.478872
TX1  covered before   05:18:30 – 05:26:43.833596                  493.833596
     lost             until the take                               10.168692
     exposed          v feeds, w out of lock                      193.704232
     unproved         locked again, no offset read yet             51.294032
     covered after    3000 − the four                            2250.999448
TX2, TX3  covered throughout

air 4800 + 3000 + 9600 + 8580 = 25980; lost 10.660614; unproved 51.294032; exposed 259.248378; covered the rest:
25658.796976. v feeds until the take in TX0 (604.976982), after it in TX1 (3000 − 504.002288 = 2495.997712), in TX2, and
until the take in TX3 (1 h 12 min 15.245444 s = 4335.245444): 17036.220138; w the rest. w protects where v feeds and air
is covered: 604.485060 + 2250.999448 + 9600 + 4335.245444.

To cover: TX0 0.491922 + 65.544146; TX1 10.168692 + 193.704232 + 51.294032. Tickets: v opened 28 Feb 23:43:58, restored
2 Mar 16:09:58, which is two days less 7 h 34 min; w opened 05:41:18, restored 11:15:18, which is 5 h 34 min.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.simulate import Parameters, simulate_site
from tests.simulate.rooms import truth_of

ROOM = Parameters(
    seed=3, days=1, channels=1, pairs=1, programmes=4, lines_per_second=0, faults=900, handovers=300
)  # fmt: skip
BOOKED = (
    ("VT02", "2031-02-28T23:21:43.000000Z", "2031-03-01T00:41:43.000000Z"),
    ("VT01", "2031-03-01T05:18:30.000000Z", "2031-03-01T06:08:30.000000Z"),
    ("VT02", "2031-03-01T11:20:47.000000Z", "2031-03-01T14:00:47.000000Z"),
    ("VT02", "2031-03-01T17:22:36.000000Z", "2031-03-01T19:45:36.000000Z"),
)
LINES = {
    "events/VT02_2031-02.csv": (
        "2031-02-28T23:31:47.485060Z,VT02,sound_lost,,",
        "2031-02-28T23:32:53.521128Z,VT02,sound_back,,",
    ),
    "events/VT01_2031-03.csv": (
        "2031-03-01T05:26:43.833596Z,VT01,unlock,,",
        "2031-03-01T05:30:07.706520Z,VT01,lock,,",
    ),
    "events/VT02_2031-03.csv": ("2031-03-01T05:30:59.000552Z,VT02,offset,-0.005,",),
    "switches.csv": (
        "2031-02-28T23:31:47.976982Z,take,Channel 1,VT02,VT01,,control",
        "2031-03-01T05:26:54.002288Z,take,Channel 1,VT01,VT02,,control",
        "2031-03-01T18:34:51.245444Z,take,Channel 1,VT02,VT01,,control",
    ),
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return simulate_site(tmp_path_factory.mktemp("hand") / "site", ROOM).site


@pytest.fixture(scope="module")
def truth(site: Path) -> dict[str, Any]:
    return truth_of(site)


def test_the_room_holds_the_lines_that_were_worked_from(site: Path) -> None:
    for path, lines in LINES.items():
        assert set(lines) <= set((site / path).read_text(encoding="utf-8").splitlines()), path
    booked = (site / "bookings.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert [tuple(line.split(",")[i] for i in (6, 8, 9)) for line in booked if ",air," in line] == list(BOOKED)


def test_seconds_by_state(truth: dict[str, Any]) -> None:
    expected = {
        "air_s": 25980.0, "lost_s": 10.660614, "unknown_s": 0.0, "covered_s": 25658.796976, "unproved_s": 51.294032,
        "exposed_s": 259.248378, "exposed_not_good_s": 259.248378, "exposed_none_booked_s": 0.0,
        "exposed_out_of_step_s": 0.0, "rescued_s": 0.0, "overrun_s": 0.0,
    }  # fmt: skip
    assert {name: truth["total"][name] for name in expected} == expected
    assert truth["total"]["continuity"] == 1 - 10.660614 / 25980
    # 28 February 23:21 is past midnight in Stockholm, so that all of it is March.
    assert [(month["month"], month["air_s"]) for month in truth["months"]] == [("2031-03", 25980.0)]


def test_counts(truth: dict[str, Any]) -> None:
    expected = {
        "interruptions": 2, "forced": 2, "unexplained": 1, "protect_switches": 3, "precaution": 0, "planned": 0,
        "return": 0, "demands": 2, "demands_met": 2, "demands_healed": 0, "demands_unprotected": 0,
    }  # fmt: skip
    assert {name: truth["total"][name] for name in expected} == expected


def test_times_to_recover(truth: dict[str, Any]) -> None:
    total = truth["total"]
    assert total["to_air"] == total["to_take"] == [[0.491922, True], [10.168692, True]]
    assert total["to_cover"] == [[66.036068, True], [255.166956, True]]
    assert total["to_service"] == [[20040.0, True], [145560.0, True]]


def test_machines(truth: dict[str, Any]) -> None:
    names = ("machine", "air_s", "lost_s", "forced", "unexplained", "protect_s", "cover_losses")
    assert [tuple(machine[name] for name in names) for machine in truth["machines"]] == [
        ("VT01", 8943.779862, 10.168692, 1, 0, 16790.729952, 0),
        ("VT02", 17036.220138, 0.491922, 1, 1, 8868.067024, 0),
    ]
