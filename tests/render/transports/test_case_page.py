"""The case on its pages: the answer and how sure first, nothing pretended, one sheet of paper a machine."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from pipeline.costs import NUMBERS, Costs, PartCost, read_costs
from pipeline.measure.transports.case.laws import even
from pipeline.measure.transports.case.measuring import build_cases, describe_room, judge_case
from pipeline.measure.transports.case.records import Record
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.render.filling import HERE, fill, page_environment
from pipeline.render.language import speaking
from pipeline.render.reading import Reading
from pipeline.render.transports import case_inputs as numbers
from pipeline.render.transports import case_room_words as room_words
from pipeline.render.transports import case_words as words
from pipeline.render.transports.case_page import case_sheets, example, page_names
from pipeline.render.words import capital, duration, limits
from pipeline.render.writing import ASSETS
from tests.browser.chromium import find_chromium, open_browser
from tests.measure.transports.test_case import COSTS, SITE, A, B, chances_by_another_quadrature

NEEDS = {
    "rooms": [
        {
            "group": None, "owned_count": 8, "booked_count": 6, "booked_h": 0.025, "first_at": "2031-02-23T19:20:00Z",
            "enough_count": 4, "with_maintenance_count": 7,
        }
    ],
    "left_out_count": 0,
}  # fmt: skip
EQUAL = {"ratio": 1.0, "p": 0.6, "adjusted_p": 1.0, "is_named": False}


def section(records: Sequence[Record], costs: Costs | None, sections: dict[str, Any] | None = None) -> dict[str, Any]:
    """The section of figures.json as the measure makes it of these records over half a year."""
    site = replace(SITE, costs=costs)
    cases = build_cases(records, HOURS_A_YEAR / 2, site, sections or {})
    machines = [judge_case(case, has_costs=costs is not None) | {"comparison": dict(EQUAL)} for case in cases]
    return {
        "currency": costs.currency if costs else None, "span_h": HOURS_A_YEAR / 2, "needs": NEEDS,
        "room": describe_room(records, cases[0]), "machines": machines, "left_out_count": 0,
    }  # fmt: skip


def pages(reading: Reading, found: dict[str, Any], costs: Costs | None) -> dict[str, str]:
    """The pages of the section, as plain text with single blanks."""
    own = replace(
        reading,
        settings=replace(reading.settings, costs=costs),
        figures={**reading.figures, "transports": {"case": found}},
    )
    environment = page_environment(own)
    return {sheet.name: fill(environment, sheet) for sheet in case_sheets(own)}


def plain(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)).replace("\u00a0", " "))


def test_without_costs_the_page_says_so_and_what_would_bring_them(reading: Reading) -> None:
    written = pages(reading, section([A, B], None), None)
    assert list(written) == ["case.html"]
    text = plain(written["case.html"])
    assert "The site states no costs, so no machine has a case in money here." in text
    # Two machines with 6 events a year each, of 20 s each; their limits are added up.
    law = even([3, 3], [0.5, 0.5]).machines[0]
    assert f"At this pace a year brings 12.0 events on air ({limits(2 * law.low, 2 * law.high)})" in text
    assert f"4 min of lost air ({duration(40 * law.low)} to {duration(40 * law.high)})" in text
    assert all(key in text for key in NUMBERS)
    assert "invented" in text


def test_the_example_can_be_copied_as_it_stands() -> None:
    stated = read_costs(tomllib.loads(example())["costs"])
    assert stated.currency == "EUR"
    assert all(key in example() for key in NUMBERS if key not in ("exposed_per_h", "replacement_rate_ratio"))


def test_the_answer_stands_first_with_its_chance_and_what_turns_it(reading: Reading) -> None:
    """The case worked by hand in the measure's tests: an overhaul at 3,090, a new machine 290 more, which is 9 %.

    A new machine is as cheap at 290 / (0.121 / 0.21) = 503.306 less than 4,200: no stated number is nearer to its turn.
    """
    sure = chances_by_another_quadrature()[1]
    text = plain(pages(reading, section([A, B], COSTS), COSTS)["case.html"])
    start = text.index(
        "At the prices the site states, what costs least is an overhaul for A and B, by 9 % of a year's cost. That is "
        f"right with a chance of {100 * sure:.0f} %, as far as luck in the rates of events and tickets goes. "
        "It also hangs on a number that is stated and not measured, a new machine: at 3,697 crowns for A and not the "
        "4,200 crowns stated, a new machine would be cheaper."
    )
    assert start < text.index("The options of each machine")
    assert "Of what was measured, this turns an answer first, that of A." in text
    assert "No machine's own record stands out" in text
    assert "equal machines would get cases that look like these" in text
    assert "without limits of its own" in text


def test_a_room_in_which_keeping_is_cheapest_has_no_case_for_a_change(reading: Reading) -> None:
    dear = replace(COSTS, overhaul=90_000.0, replacement=900_000.0)
    text = plain(pages(reading, section([A, B], dear), dear)["case.html"])
    # Keeping costs 3,720, lighter duty 3,820: 100 / 3,720 = 2.7 %.
    assert (
        "keeping costs least for all two machines, by 3 % of a year's cost: no machine has a case for a change at "
        "these prices. That is right"
    ) in text
    alone = plain(pages(reading, section([B], dear), dear)["case.html"])
    assert "keeping costs least for B, by" in alone
    assert "it has no case for a change at these prices." in alone


def priced(name: str, best: str, costs: dict[str, float], sure: float, **turn: Any) -> dict[str, Any]:
    """A machine as the room's sentences read it; ``turn``: of what an overhaul leaves of its failures."""
    order = sorted(costs, key=lambda option: costs[option])
    row = {"input": "overhaul_rate_ratio", "below": None, "above": None, "is_within_limits": None, **turn}
    return {
        "machine": name, "best": best, "next": order[1], "chances": {best: sure}, "flips": [row] if turn else [],
        "options": [{"option": option, "value": value} for option, value in costs.items()],
    }  # fmt: skip


def test_the_room_is_told_from_the_least_sure_to_the_surest() -> None:
    """103 / 100 is 3 %, 216 / 200 is 8 %. 20 % are cut as stated; 1 - 0.7604 = 23.96 %, in whole percent past it 24."""
    turn = {"value": 0.8, "below": 0.7604, "below_option": "overhaul", "factor": 1.05}
    machines = [
        priced("VT1", "keep", {"keep": 100.0, "overhaul": 103.0}, 0.81, **turn),
        priced("VT2", "keep", {"keep": 200.0, "overhaul": 216.0}, 0.987),
    ]
    assert room_words.room_answer(machines).startswith(
        "At the prices the site states, keeping costs least for all two machines, by 3 % to 8 % of a year's cost"
    )
    assert room_words.room_sureness(machines).startswith("That is right with a chance of 81 % (VT1) to 99 % (VT2), as")
    assert room_words.room_stated(machines, "c") == (
        "It also hangs on a number nobody measured: if an overhaul cut VT1's failures by 24 % and not the 20 % stated, "
        "an overhaul would be cheaper."
    )
    assert room_words.room_stated(machines[1:], "c") == "Nothing that is stated and not measured turns an answer alone."
    assert room_words.room_turn(machines, "c").startswith("No measured number turns any of the answers alone")
    mixed = [machines[0], priced("VT3", "overhaul", {"keep": 130.0, "overhaul": 100.0}, 0.9)]
    assert "least is keeping for VT1 and an overhaul for VT3, by 3 % to 30 % of a year" in room_words.room_answer(mixed)
    assert room_words.room_sureness(mixed).startswith("Each answer is right with a chance of 81 % (VT1) to 90 % (VT3)")


@pytest.mark.parametrize(
    ("above", "told"),
    [(0.5788, "by 42 % and not the 50 % stated"), (0.5004, "by 49.96 % and not the 50 % stated")],
)
def test_a_cut_is_rounded_past_its_turn(above: float, told: str) -> None:
    """42.12 % and 49.96 % are cut at the turn. 49 % or 49.9 % would be farther from 49.96 % than that is from 50 %."""
    turn = {"value": 0.5, "above": above, "above_option": "keep", "factor": above / 0.5}
    machine = priced("A", "overhaul", {"keep": 2.0, "overhaul": 1.0}, 0.9, **turn)
    assert f"if an overhaul cut A's failures {told}, keeping would be cheaper." in room_words.room_stated(
        [machine], "c"
    )


def test_an_overhaul_that_would_cut_nothing_is_told_as_a_ratio() -> None:
    turn = {"value": 0.9, "above": 1.25, "above_option": "keep", "factor": 1.25 / 0.9}
    machine = priced("A", "overhaul", {"keep": 2.0, "overhaul": 1.0}, 0.9, **turn)
    assert "share of today's: at 1.25 for A and not the 0.9 stated, keeping" in room_words.room_stated([machine], "c")


def test_without_another_price_keeping_is_all_there_is() -> None:
    only: dict[str, Any] = {
        "machine": "A",
        "best": "keep",
        "next": None,
        "options": [],
        "flips": [],
        "chances": {"keep": 1.0},
    }
    assert room_words.room_answer([only]).startswith("Only keeping the machines as they are can be priced")


def test_who_is_named_by_the_rates_is_told_apart_from_luck(reading: Reading) -> None:
    found = section([A, B], COSTS)
    found["machines"][0]["comparison"] = {"ratio": 3.2, "p": 0.001, "adjusted_p": 0.01, "is_named": True}
    written = pages(reading, found, COSTS)
    assert "More than luck sets apart A; the other cases differ by hours, price and luck." in plain(
        written["case.html"]
    )
    assert "3.20 times what its hours and work would bring (adjusted p = 0.01)" in plain(written["case-a.html"])
    assert "Its own record does not set it apart from the others" in plain(written["case-b.html"])


def test_a_machines_sheet_has_all_a_signature_needs(reading: Reading) -> None:
    text = plain(pages(reading, section([A, B], COSTS), COSTS)["case-a.html"])
    assert "For A, overhauling it costs least: 3,090" in text
    assert "Keeping it as it is costs 630 more a year" in text
    assert "Against overhauling it now: 1 year of keeping costs 573 crowns" in text
    assert "an overhaul: 2,100 crowns now; above 2,603 crowns, a new machine" in text
    for word in ("Prepared", "Finance", "Date", "lock and tag", "local codes and licensed practice"):
        assert word in text
    assert "3 events in 500 h" in text
    for row in section([A, B], COSTS)["machines"][0]["inputs"]:
        assert capital(numbers.named(row["input"])) in text


def test_an_option_that_is_not_priced_names_its_keys(reading: Reading) -> None:
    few = Costs("crowns", labour_per_h=100.0, discount_rate=0.1)
    written = pages(reading, section([A, B], few), few)
    assert "not priced: site.toml has no overhaul, overhaul_life_years and overhaul_rate_ratio" in plain(
        written["case-a.html"]
    )
    assert "not priced: site.toml has no replacement_life_years" in plain(written["case-a.html"])
    assert "lost_per_s what lost seconds cost" in plain(written["case.html"])


def test_without_air_there_is_nothing_to_rest_on(reading: Reading) -> None:
    empty: dict[str, Any] = {
        "currency": "crowns",
        "machines": [],
        "needs": {"rooms": [], "left_out_count": 0},
        "room": None,
        "left_out_count": 0,
    }
    text = plain(pages(reading, empty, COSTS)["case.html"])
    assert "No air time is logged, so there is nothing a case could rest on." in text
    assert "No booking for programme is loaded." in text


def test_what_the_bookings_need_is_printed_with_its_hours(reading: Reading) -> None:
    text = plain(pages(reading, section([A], COSTS), COSTS)["case.html"])
    assert "The room 8 6 1 min 30 s 2031-02-23 20:20 4 7" in text
    assert "Most booked at once, maintenance included" in text


def test_machines_whose_names_read_alike_get_a_page_each() -> None:
    assert page_names(["VT 1", "vt-1", "VT-1-2", "ÅÄ"]) == {
        "VT 1": "case-vt-1.html", "vt-1": "case-vt-1-2.html", "VT-1-2": "case-vt-1-2-2.html", "ÅÄ": "case-x.html",
    }  # fmt: skip


def test_a_hostile_name_is_written_as_text(reading: Reading) -> None:
    nasty = replace(A, machine='<script>alert("x")</script>')
    html = "".join(pages(reading, section([nasty, B], COSTS), COSTS).values())
    assert nasty.machine not in html
    assert "&lt;script&gt;alert(" in html


@pytest.mark.parametrize(
    ("chance", "text"),
    [(1.0, "over 99 %"), (0.991, "over 99 %"), (0.99, "99 %"), (0.504, "50 %"), (0.01, "1 %"), (0.0, "under 1 %")],
)
def test_no_chance_is_printed_as_certain(chance: float, text: str) -> None:
    assert words.odds(chance) == text


def test_a_turning_value_is_told_from_the_value_of_today() -> None:
    assert numbers.apart("overhaul", 95_035.4, 95_000.0, "c") == "95,035 c"
    assert numbers.apart("overhaul_rate_ratio", 0.80012, 0.8, "c") == "0.8001"
    assert numbers.apart("discount_rate", 0.05001, 0.05, "c") == "5.001 %"
    assert numbers.apart("lost_per_s", 10.0, 10.0, "c").startswith("just beside")


def test_what_is_stated_is_printed_as_it_was_stated() -> None:
    assert numbers.amount("discount_rate", 0.0525, "c", is_stated=True) == "5.25 %"
    assert numbers.amount("overhaul_life_years", 4.0, "c", is_stated=True) == "4 years"
    assert numbers.amount("lost_per_s", 1234.5, "c", is_stated=True) == "1,234.5 c"
    assert numbers.amount("lost_s_per_event", 5.5743, "c") == "5.57 s"
    assert numbers.amount("changes: head per 1000 h", 352.0, "c") == "352 c"


def test_every_number_has_its_words() -> None:
    assert set(numbers.stated_names()) == set(NUMBERS)
    assert set(numbers.UNITS) == set(numbers.stated_names()) | set(numbers.measured_names())
    assert all(numbers.brings(key) for key in NUMBERS)
    for name in (words.option_word, words.doing, words.noun):
        assert all(name(option) for option in words.OPTIONS)


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one")
@pytest.mark.parametrize(("tag", "locale"), [("en", "en-GB"), ("de", "de-DE")])
def test_each_case_prints_on_one_sheet_of_a4(reading: Reading, tmp_path: Path, tag: str, locale: str) -> None:
    """The fullest case there is: every key, eight kinds of parts, a spread, a trend, long names; and the barest."""
    parts = [f"part of kind {number}" for number in range(8)]
    full = replace(COSTS, currency="crowns of the year 2031", parts=tuple(PartCost(kind, 1e4, 2e4) for kind in parts))
    kinds = [{"kind": kind, "failed_count": 3, "taken_out_count": 4, "life_h": 812.5} for kind in parts]
    outlook = [{"machine": "A", "air_h_per_year": 1000.0, "basis": "changing", "switches": {"mean": 90.0}}]
    bad = replace(
        A, events=40, switches=40, tickets=30, head_h=300.0, kind="transverse, wide tape, with its own cooling"
    )
    few = Costs("crowns", labour_per_h=100.0)
    sections = {"parts": {"kinds": kinds}, "outlook": {"machines": outlook}}
    spoken = replace(reading, settings=replace(reading.settings, language=tag, locale=locale))
    (tmp_path / "assets").mkdir()
    for asset in ASSETS:
        (tmp_path / asset).write_bytes((HERE / asset).read_bytes())
    for costs in (full, few):
        with speaking(tag, locale):
            written = pages(spoken, section([bad, replace(B, head_h=10.0)], costs, sections), costs)
        for name, html in written.items():
            (tmp_path / name).write_text(html, encoding="utf-8")
        with open_browser() as browser:
            page = browser.new_page()
            for name in ("case-a.html", "case-b.html"):
                page.goto((tmp_path / name).as_uri())
                printed = page.pdf(format="Letter", prefer_css_page_size=True)
                assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1, name
                assert re.search(rb"/MediaBox\s*\[0 0 59[45]\S* 84[12]\S*\]", printed), name
