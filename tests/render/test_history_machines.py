"""The pages of machines: figures worked by hand from the small room, and what they must not say."""

from __future__ import annotations

import math
from datetime import datetime

import pytest

from pipeline.render.history_machine_words import Machine, against, head, identity, open_work, some
from pipeline.render.history_machines import with_limits, worst_first
from pipeline.render.words import Local
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE, PERSON, SETTINGS, at

LOCAL = Local(SETTINGS.zone)
REGISTER = {
    "machine": "T1", "kind": "transport", "pair": "P1", "machine_group": None, "retired_at_utc": None,
    "installed_at_utc": at("01-01 00:00:00"),
}  # fmt: skip


def test_a_page_opens_with_what_the_machine_is_and_did(rendered: Rendered) -> None:
    text = rendered.text("machine-t1.html")
    assert "T1 stands in the register: transport; pair P1 with T2; installed on 1 January 2031." in text
    # On air 19:00:00–19:20:12 in February (1,212 s) and 18:00–18:40 in March (2,400 s): 3,612 s = 1.0033 h.
    # As protect: good and in step behind T2 it never stood.
    assert "It fed 1.00 h of air time" in text
    # One forced switch and one precaution in 1.0033 h: 2 / 1.0033 × 1,000 = 1,993.
    assert "2 protect switches led away from it (1 forced, 1 as a precaution, 0 unexplained): 1,993 per 1,000 h" in text
    assert "Which head is on it is not known: no fitting is logged." in text
    assert "No ticket on it is open." in text


def test_its_months_have_exact_limits() -> None:
    # One event in 1 h. Garwood: low is −ln 0.975; high solves e^−x (1 + x) = 0.025, so x = 5.5716.
    rate = with_limits({"air_s": 3600.0, "switches_count": 1})["rate"]
    assert rate["value"] == 1000.0
    assert rate["low"] == pytest.approx(-1000 * math.log(0.975), rel=1e-9)
    high = rate["high"] / 1000
    assert math.exp(-high) * (1 + high) == pytest.approx(0.025, rel=1e-9)
    assert with_limits({"air_s": 0.0, "switches_count": 0})["rate"] == {"value": None, "low": None, "high": None}


def test_every_event_leads_to_its_incident(rendered: Rendered) -> None:
    text = rendered.text("machine-t1.html")
    incidents = rendered.store.read("select incident from core_incidents where machines like '%T1%'")["incident"]
    assert len(incidents) == 2
    for incident in incidents:
        assert f'href="incident-{incident}.html"' in text
    assert "It was the source taken in" not in text
    assert "It was the source taken in 2 events of other machines." in rendered.text("machine-t2.html")


def test_hostile_words_are_shown_as_text_and_nobody_is_named(rendered: Rendered) -> None:
    pages = [page for name, page in rendered.html.items() if name.startswith(("machine-", "reel", "find"))]
    assert len(pages) == 4 + 2 + 1
    for page in pages:
        assert HOSTILE not in page
        assert "<img src=x" not in page
        assert PERSON not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in rendered.html["machine-t1.html"]


def test_what_the_register_does_not_say_is_said() -> None:
    assert identity(Machine("V"), LOCAL) == "V is not in the register: what it is and since when is not recorded."
    lone = Machine("T1", register={**REGISTER, "kind": None, "installed_at_utc": None})
    assert identity(lone, LOCAL) == (
        "T1 stands in the register: kind not recorded; pair P1, alone in it; since when is not recorded."
    )


def test_the_head_is_the_one_that_was_not_taken_out() -> None:
    lives = [
        {"kind": "head", "detail": "H1", "started_at_utc": at("02-01 00:00:00"), "ended_at_utc": at("03-01 00:00:00"),
         "life_h": 40.0},
        {"kind": "head", "detail": "H2", "started_at_utc": at("03-01 00:00:00"), "ended_at_utc": None, "life_h": 12.5},
        {"kind": "belt", "detail": "belt", "started_at_utc": at("03-02 00:00:00"), "ended_at_utc": None, "life_h": 1.0},
    ]  # fmt: skip
    told = head(Machine("T1", lives=lives), LOCAL)
    assert told == "The head on it is H2, fitted on 1 March 2031; it has rolled 12.5 h since."


def test_a_ticket_is_open_until_it_is_restored_or_closed() -> None:
    def ticket(name: str, restored: datetime | None, closed: datetime | None) -> dict[str, object]:
        opened = at("02-03 00:00:00")
        return {"ticket": name, "opened_at_utc": opened, "restored_at_utc": restored, "closed_at_utc": closed}

    done = [ticket("A", at("02-04 00:00:00"), None), ticket("B", None, at("02-04 00:00:00"))]
    assert open_work(Machine("T1", tickets=done), LOCAL) == "No ticket on it is open."
    one = open_work(Machine("T1", tickets=[*done, ticket("C", None, None)]), LOCAL)
    assert one == "One ticket on it is open: C, since 3 February 2031."
    two = open_work(Machine("T1", tickets=[ticket("C", None, None), ticket("D", None, None)]), LOCAL)
    assert two == "2 tickets on it are open, the oldest of them C, since 3 February 2031."


@pytest.mark.parametrize(
    ("adjusted", "is_named", "told"),
    [
        (0.8, False, "Chance alone easily gives as much (adjusted p = 0.80)."),
        (0.01, True, "It is more than chance easily gives (adjusted p = 0.01)."),
        (0.01, False, "By events alone it would stand out (adjusted p = 0.01), but not by the occasions they came on."),
    ],
)
def test_the_verdict_is_that_of_the_room_s_comparison(adjusted: float, is_named: bool, told: str) -> None:
    row = {"ratio": 2.0, "ratio_low": 1.1, "ratio_high": None, "adjusted_p": adjusted, "is_named": is_named}
    assert against(row, 0.05) == (
        f"That is 2.00 times the rate of all the others together (limits 1.10 or more). {told}"
    )
    assert against(None, 0.05) == "There is too little to hold it against the others."


def test_reels_are_listed_by_their_excess_of_faults() -> None:
    def reel(name: str, count: int, expected: float | None, hours: float) -> dict[str, object]:
        return {"reel": name, "faults_count": count, "expected": expected, "played_h": hours}

    rows = [reel("A", 1, 0.9, 5.0), reel("B", 2, 0.5, 5.0), reel("C", 0, None, 0.0), reel("D", 0, 0.2, 1.0)]
    # Excess 0.1, 1.5, never played, −0.2.
    assert [row["reel"] for row in worst_first(rows)] == ["B", "A", "D"]


def test_many_names_are_told_by_their_number() -> None:
    assert some(["A", "B"]) == "A and B"
    assert some([f"M{number}" for number in range(8)]) == "M0, M1, M2, M3, M4, M5 and 2 more"
