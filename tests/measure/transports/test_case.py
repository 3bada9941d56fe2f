"""The case: one worked by hand from counts to answer, and what must hold of any."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st
from scipy import integrate, stats

from pipeline.costs import NUMBERS, Costs, PartCost
from pipeline.measure.transports.case.judging import flips
from pipeline.measure.transports.case.laws import even
from pipeline.measure.transports.case.measuring import build_cases, describe_room, judge_case
from pipeline.measure.transports.case.options import NEEDS, totals
from pipeline.measure.transports.case.records import Record
from pipeline.measure.transports.case.values import Case
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.settings import THRESHOLDS, Settings
from pipeline.statistics import gamma_poisson_shrinkage, hierarchical_rates

SITE = Settings("Room", "UTC", "00:00", 25.0, sync_tolerance_s=0.04, show_persons=False, costs=None, **THRESHOLDS)
COSTS = Costs(
    "crowns", discount_rate=0.10, labour_per_h=100.0, lost_per_s=10.0, make_good=500.0, response=20.0,
    exposed_per_h=2.0, replacement_life_years=2.0, replacement_rate_ratio=0.25, overhaul=2100.0,
    overhaul_life_years=2.0, overhaul_rate_ratio=0.5, lighter_air_ratio=0.5, lighter_per_air_h=3.0,
)  # fmt: skip
HALF_A_YEAR_H = HOURS_A_YEAR / 2
A = Record(
    "A", air_h=500.0, exposed_h=10.0, events=3, switches=2, failed=2, healed=1, lost_s=70.0, longest_s=50.0, tickets=2,
    labour_count=2, labour_h=5.0, priced_count=1, parts_cost=60.0, with_part_count=1, replacement_cost=4200.0,
    in_register=True,
)  # fmt: skip
B = replace(
    A, machine="B", switches=1, failed=1, healed=0, lost_s=50.0, longest_s=20.0, labour_count=1, labour_h=1.0,
    priced_count=0, parts_cost=0.0,
)  # fmt: skip


def cases(*records: Record, costs: Costs | None = COSTS, sections: Mapping[str, Any] | None = None) -> list[Case]:
    return build_cases(records, HALF_A_YEAR_H, replace(SITE, costs=costs), sections or {})


def judged(case: Case) -> dict[str, Any]:
    return judge_case(case, has_costs=True)


def lines(found: Mapping[str, Any], option: str) -> dict[str, float]:
    row = next(row for row in found["options"] if row["option"] == option)
    return {line["line"]: line["value"] for line in row["lines"]} | {"total": row["value"]}


def test_a_whole_case_worked_by_hand() -> None:
    """Two machines, half a year. Both had 3 events in 500 h, so evening their rates leaves them as they are.

    Events: 6 in 1,000 h, 6 per 1,000 h; each machine is on air 1,000 h a year: 6 events. An event loses 120 s / 6 =
    20 s, fails in 3 of 6 cases, has 3 / 6 switches: 20 x 10 + 0.5 x 500 + 0.5 x 20 = 460 crowns.
    Tickets: 4 in two halves of a year: 4 a year. Hours: 6 h on the 3 that state them, 2 h a ticket, 200 crowns. Parts:
    2 of 4 name a part, the one priced cost 60: 30 a ticket. Together 230 crowns a ticket.
    Exposed: 10 h in half a year, 20 h a year at 2 crowns.
    A price over two years at 10 %: x 0.1 / (1 - 1 / 1.21) = x 0.121 / 0.21; 2,100 gives 1,210 and 4,200 gives 2,420.

    keep          4 x 200 = 800, 4 x 30 = 120, 6 x 460 = 2,760, 40                             3,720
    overhaul      1,210, half of 800, 120 and 2,760: 400, 60, 1,380, and 40                    3,090
    replace       2,420, a quarter: 200, 30, 690, and 40                                       3,380
    lighter duty  500 h moved at 3: 1,500; 800, 120; half of 2,760 and of 40: 1,380, 20        3,820
    """
    found = judged(cases(A, B)[0])
    work = {"labour": 800, "parts on tickets": 120}
    expected = {
        "keep": {**work, "on air": 2760, "exposed air": 40, "total": 3720},
        "overhaul": {"price over its life": 1210, "labour": 400, "parts on tickets": 60, "on air": 1380},
        "replace": {"price over its life": 2420, "labour": 200, "parts on tickets": 30, "on air": 690},
        "lighter duty": {"air played elsewhere": 1500, **work, "on air": 1380, "exposed air": 20, "total": 3820},
    }
    expected["overhaul"] |= {"exposed air": 40, "total": 3090}
    expected["replace"] |= {"exposed air": 40, "total": 3380}
    for option, amounts in expected.items():
        assert lines(found, option) == pytest.approx(amounts, rel=1e-4), option
    assert (found["best"], found["next"]) == ("overhaul", "replace")


def test_its_limits_by_hand() -> None:
    """Keeping is 40 + 460 x events + 230 x tickets: both at the lower, then at the upper end of their limits."""
    events, tickets = even([3, 3], [0.5, 0.5]).machines[0], even([2, 2], [0.5, 0.5]).machines[0]
    row = judged(cases(A, B)[0])["options"][0]
    assert row["low"] == pytest.approx(40 + 460 * events.low + 230 * tickets.low)
    assert row["high"] == pytest.approx(40 + 460 * events.high + 230 * tickets.high)
    price = judged(cases(A, B)[0])["options"][1]["lines"][0]
    assert price["low"] == price["high"] == price["value"]  # a price that is stated has no limits


def test_its_cost_of_waiting_by_hand() -> None:
    """Keeping costs 3,720 - 3,090 = 630 a year more than an overhaul.

    One year: 630 / 1.1 = 572.73. Three: 630 x (1 / 1.1 + 1 / 1.21 + 1 / 1.331) = 630 x 2.486852 = 1,566.72.
    By events and tickets the gap is -1,210 + 230 x events + 115 x tickets; its limits put both at their ends.
    """
    found = judged(cases(A, B)[0])["waiting"]
    assert found["against"] == "overhaul"
    one, three = found["years"]
    assert (one["years"], three["years"]) == (1, 3)
    assert one["value"] == pytest.approx(572.727, abs=0.01)
    assert three["value"] == pytest.approx(1566.717, abs=0.02)
    events, tickets = even([3, 3], [0.5, 0.5]).machines[0], even([2, 2], [0.5, 0.5]).machines[0]
    assert one["low"] == pytest.approx((-1210 + 230 * events.low + 115 * tickets.low) / 1.1)
    assert one["high"] == pytest.approx((-1210 + 230 * events.high + 115 * tickets.high) / 1.1)


def test_what_turns_it_by_hand() -> None:
    """By the rate x of events per 1,000 h, with tickets as they are:

    keep 960 + 460 x, overhaul 1,710 + 230 x, replace 2,690 + 115 x, lighter duty 2,440 + 230 x. Keeping is cheaper
    below 750 / 230 = 3.26087, replacing above 980 / 115 = 8.52174; both lie within the limits.
    The price of an overhaul: 290 a year to the next, 290 / (0.121 / 0.21) = 503.306 more. What it makes of failures, r:
    1,250 + 3,680 r = 3,380 at r = 0.578804.
    """
    found = {row["input"]: row for row in judged(cases(A, B)[0])["flips"]}
    events = found["events_per_1000_h"]
    assert (events["below"], events["above"]) == pytest.approx((750 / 230, 980 / 115), rel=1e-4)
    assert (events["below_option"], events["above_option"]) == ("keep", "replace")
    assert events["is_within_limits"] is True
    assert found["overhaul"]["above"] == pytest.approx(2603.306, abs=0.02)
    assert found["overhaul"]["below"] is None
    assert found["overhaul"]["is_within_limits"] is None  # a stated price has no limits to be inside of
    assert found["overhaul_rate_ratio"]["above"] == pytest.approx(0.578804, abs=1e-4)
    assert found["overhaul_rate_ratio"]["above_option"] == "replace"


def chances_by_another_quadrature() -> tuple[float, float, float]:
    """Of keeping, an overhaul and a new machine, in the case worked by hand, by scipy.

    By events x and tickets t: keep 40 + 460 x + 230 t, overhaul 1,250 + half, replace 2,460 + a quarter of that. With
    y = 2 x + t: keeping is cheapest below y = 1,210 / 115, replacing above 1,210 / 57.5; lighter duty never is.
    """
    events, tickets = (
        stats.gamma(law.shape, scale=1 / law.rate)
        for law in (even([3, 3], [0.5, 0.5]).machines[0], even([2, 2], [0.5, 0.5]).machines[0])
    )

    def below(y: float) -> float:
        return float(integrate.quad(lambda t: tickets.pdf(t) * events.cdf((y - t) / 2), 0, y, epsabs=1e-9)[0])

    keep, most = below(1210 / 115), below(1210 / 57.5)
    return keep, most - keep, 1 - most


def test_how_sure_it_is_by_hand() -> None:
    chances = judged(cases(A, B)[0])["chances"]
    found = [chances[option] for option in ("keep", "overhaul", "replace")]
    assert found == pytest.approx(chances_by_another_quadrature(), abs=2e-3)
    assert chances["lighter duty"] < 2e-3


def test_where_events_cost_nothing_the_chance_is_that_of_the_tickets() -> None:
    """The lines above with x = 0, without exposed air: they cross at t = 1,210 / 115 and 1,210 / 57.5."""
    costs = replace(COSTS, lost_per_s=None, make_good=None, response=None, exposed_per_h=None, lighter_per_air_h=None)
    chances, believed = judged(cases(A, B, costs=costs)[0])["chances"], even([2, 2], [0.5, 0.5]).machines[0]
    law = stats.gamma(believed.shape, scale=1 / believed.rate)
    assert chances["keep"] == pytest.approx(law.cdf(1210 / 115), abs=1e-6)
    assert chances["replace"] == pytest.approx(law.sf(1210 / 57.5), abs=1e-6)


def test_tickets_that_may_be_more_or_fewer_make_an_answer_less_sure() -> None:
    """The same 4 tickets a year, known from two machines of 200,000 tickets each: hardly any luck is left in them."""
    case = cases(A, B)[0]
    fixed = replace(case, laws={**case.laws, "tickets_per_year": even([200000] * 2, [50000.0] * 2).machines[0]})
    best = judged(case)["best"]
    assert judged(case)["chances"][best] < judged(fixed)["chances"][best] - 0.01


def test_at_every_turn_the_best_and_another_cost_the_same() -> None:
    for case in cases(A, replace(B, events=30, air_h=900.0, tickets=9), replace(A, machine="C", events=1)):
        costs = totals(case.values)
        best = min(costs, key=lambda option: costs[option])
        turned = [row for row in flips(case.values, case.within) if row["factor"] is not None]
        assert turned
        for row in turned:
            for side in ("below", "above"):
                if row[side] is not None:
                    there = totals({**case.values, row["input"]: row[side]})
                    assert there[row[f"{side}_option"]] == pytest.approx(there[best], rel=1e-9)
        assert [row["factor"] for row in turned] == sorted(row["factor"] for row in turned)


def test_luck_is_halved_at_least_before_it_becomes_a_case() -> None:
    """Six events against ten in equal hours, where 8 are meant for each: the rates come closer by more than half."""
    rates = [case.values["events_per_1000_h"] for case in cases(*(replace(A, events=n) for n in (6, 10, 8, 8)))]
    assert 14 < rates[0] < 16 < rates[1] < 18  # 12 and 20 per 1,000 h as counted
    same = [totals(case.values) for case in cases(A, A, A, A)]
    assert same[0] == pytest.approx(same[3])


def test_where_machines_differ_a_new_one_is_like_the_room() -> None:
    """40 events against 10, 8 and 2: a new machine's rate lies between, and replacing gains the worst machine most."""
    found = cases(*(replace(A, events=n, lost_s=10.0 * n) for n in (40, 10, 8, 2)))
    bad, good = found[0], found[3]
    assert good.values["events_per_1000_h"] < bad.values["fresh_events_per_1000_h"] < bad.values["events_per_1000_h"]
    saved = [
        lines(judged(case), "keep")["on air"] - 4 * lines(judged(case), "replace")["on air"] for case in (bad, good)
    ]
    assert saved[0] > 0 > saved[1]
    assert sum(judged(bad)["chances"].values()) == pytest.approx(1.0)


def test_no_number_is_put_in_the_place_of_one_that_is_not_stated() -> None:
    """Without any price of an option only keeping is priced; without any price of an event, its line is not there."""
    found = judged(cases(replace(A, replacement_cost=None), B, costs=Costs("crowns", labour_per_h=100.0))[0])
    assert lines(found, "keep") == pytest.approx({"labour": 800, "parts on tickets": 120, "total": 920}, rel=1e-4)
    missing = {row["option"]: row["missing"] for row in found["options"]}
    assert missing == {
        "keep": [],
        "overhaul": ["discount_rate", "overhaul", "overhaul_life_years", "overhaul_rate_ratio"],
        "replace": ["discount_rate", "replacement", "replacement_life_years"],
        "lighter duty": ["lighter_air_ratio", "lighter_per_air_h"],
    }
    assert (found["best"], found["next"], found["waiting"], found["flips"]) == ("keep", None, None, [])
    assert found["chances"] == {"keep": 1.0}


def test_the_price_of_site_toml_goes_before_that_of_the_register() -> None:
    by_site, by_register = cases(A, costs=replace(COSTS, replacement=9000.0))[0], cases(A)[0]
    assert (by_site.values["replacement"], by_site.sources["replacement"]) == (9000.0, "site.toml")
    assert (by_register.values["replacement"], by_register.sources["replacement"]) == (4200.0, "the register")


def test_heads_cost_what_their_achieved_lives_make_of_them() -> None:
    """2 failed at 98 and 3 taken out at 52 in 1,000 h: 352 per 1,000 h. 300 h in half a year are 600 a year: 211.20.

    Lighter duty moves 500 of the 1,000 air hours, and the heads turn with them: 100 h are left, 35.20.
    """
    parts = {"kinds": [{"kind": "head", "failed_count": 2, "taken_out_count": 3, "life_h": 1000.0}]}
    costs = replace(COSTS, parts=(PartCost("head", planned=52.0, failure=98.0),))
    found = judged(cases(replace(A, head_h=300.0), B, costs=costs, sections={"parts": parts})[0])
    assert lines(found, "keep")["changes: head"] == pytest.approx(211.2)
    assert lines(found, "overhaul")["changes: head"] == pytest.approx(211.2)
    assert lines(found, "lighter duty")["changes: head"] == pytest.approx(35.2)
    without = judged(cases(A, B, costs=costs, sections={"parts": parts})[0])
    assert "changes: head" not in lines(without, "keep")  # hours of heads not known: no cost is made up


def test_a_trend_that_stands_carries_the_rate_forward() -> None:
    """The outlook expects 8 switches where 2 in 500 h would bring 4 in 1,000: the rate on air is taken twice."""
    row = {"machine": "A", "air_h_per_year": 1000.0, "basis": "changing", "switches": {"mean": 8.0}}
    case = cases(A, B, sections={"outlook": {"machines": [row]}})[0]
    assert case.values["trend_ratio"] == pytest.approx(2.0)
    assert lines(judged(case), "keep")["on air"] == pytest.approx(2 * 2760, rel=1e-4)
    assert lines(judged(case), "replace")["on air"] == pytest.approx(690, rel=1e-4)  # a new machine has no trend
    steady = cases(A, B, sections={"outlook": {"machines": [{**row, "basis": "steady"}]}})[0]
    assert "trend_ratio" not in steady.values


def test_a_room_without_events_or_tickets_still_has_limits() -> None:
    """No event in 1,000 h: 0, with the exact upper limit 3.689; nothing is known of what an event brings."""
    quiet = replace(
        A, events=0, switches=0, failed=0, healed=0, lost_s=0.0, longest_s=0.0, tickets=0, labour_count=0, labour_h=0.0,
        priced_count=0, parts_cost=0.0, with_part_count=0,
    )  # fmt: skip
    case = cases(quiet, replace(quiet, machine="B"))[0]
    found = judged(case)
    assert found["evened"] == pytest.approx({"value": 0.0, "low": 0.0, "high": 3.688879}, abs=1e-6)
    assert found["lost_s_per_year"] is None
    assert lines(found, "keep") == {"exposed air": 40.0, "total": 40.0}
    room = describe_room([quiet], case)
    assert (room["failed_ratio"], room["lost_s_per_event_without_longest"]) == (None, None)


def test_an_event_without_air_makes_no_rate() -> None:
    """A switch in the instant a window began: A has an event and no air, and is expected to be like the room."""
    case = cases(replace(A, air_h=0.0), B)[0]
    assert case.values["events_per_1000_h"] == pytest.approx(6.0)  # the 3 events of B in its 500 h
    assert judged(case)["raw"] == {"value": None, "low": None, "high": None}


@pytest.mark.lengthy
@given(
    counts=st.lists(
        st.tuples(st.integers(0, 40), st.integers(0, 30), st.sampled_from([0.0, 0.01, 12.5, 900.0])), max_size=7
    ),
    stated=st.sets(st.sampled_from(sorted(NUMBERS))),
    scale=st.sampled_from([0.0, 1e-3, 1.0, 1e6]),
)
@examples(max_examples=60, deadline=None, derandomize=True)
def test_any_records_and_any_prices_give_finite_figures(
    counts: list[tuple[int, int, float]], stated: set[str], scale: float
) -> None:
    """Whatever is stated or left out: the chances sum to one, limits hold the value, and nothing is infinite."""
    some = {name: getattr(COSTS, name) for name in stated if getattr(COSTS, name) is not None}
    costs = Costs(
        "crowns", **{name: value * (scale if NUMBERS[name] == "price" else 1) for name, value in some.items()}
    )
    rows = [replace(A, events=events, tickets=tickets, air_h=air) for events, tickets, air in counts]
    for case in cases(*rows, B, costs=costs):
        found = judged(case)
        json.dumps(found, allow_nan=False)
        assert sum(found["chances"].values()) == pytest.approx(1.0)
        for option in found["options"]:
            if option["value"] is not None:
                assert option["low"] <= option["value"] * (1 + 1e-9) + 1e-9
                assert option["value"] <= option["high"] * (1 + 1e-9) + 1e-9


def test_what_the_room_has_in_common_is_described() -> None:
    """120 s in 6 events, without the longest of 50 s 14 s an event; Clopper-Pearson for 3 of 6: 0.1181 to 0.8819."""
    room = describe_room([A, B], cases(A, B)[0])
    assert (room["events"], room["failed"], room["healed"], room["tickets_without_hours"]) == (6, 3, 1, 1)
    assert room["lost_s_per_event_without_longest"] == pytest.approx(14.0)
    assert (room["failed_low"], room["failed_high"]) == pytest.approx((0.1181, 0.8819), abs=1e-4)


def test_evened_laws_have_the_limits_they_are_made_of() -> None:
    """The pumps of Gaver and O'Muircheartaigh (1987), and an eleventh that has not run: the statistic's own answer."""
    counts = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22, 0]
    hours = [94.320, 15.720, 62.880, 125.760, 5.240, 31.440, 1.048, 1.048, 2.096, 10.480, 0.0]
    found, judge = even(counts, hours), hierarchical_rates(counts, hours)
    for place, law in enumerate(found.machines[:10]):
        assert (law.mean, law.low, law.high) == pytest.approx((judge.mean[place], judge.low[place], judge.high[place]))
        low, high = (float(stats.gamma.ppf(share, law.shape, scale=1 / law.rate)) for share in (0.025, 0.975))
        assert high / low == pytest.approx(law.high / law.low, rel=1e-6)
        assert law.shape / law.rate == pytest.approx(law.mean)
    fitted = gamma_poisson_shrinkage(counts, hours)
    assert found.fresh == found.machines[10]
    assert found.fresh is not None
    assert (found.fresh.shape, found.fresh.rate) == pytest.approx((fitted.shape, fitted.rate))


def test_without_spread_a_new_machine_has_the_rooms_one_rate() -> None:
    """Four machines alike, 20 events in 4: 5, with the exact limits 12.217 / 4 and 30.888 / 4 (tables)."""
    fresh = even([5, 5, 5, 5], [1.0, 1.0, 1.0, 1.0]).fresh
    assert fresh is not None
    assert (fresh.mean, fresh.low, fresh.high) == pytest.approx((5.0, 12.217 / 4, 30.888 / 4), abs=2e-4)
    assert (fresh.shape, fresh.rate) == (20.5, 4.0)


def test_few_machines_say_nothing_of_a_new_one() -> None:
    assert even([3, 4, 5], [1.0, 1.0, 1.0]).fresh is None
    assert even([3, 4, 5, 0], [1.0, 1.0, 1.0, 0.0]).fresh is None  # one of the four has not run
    assert even([3, 4, 5, 6], [1.0, 1.0, 1.0, 1.0]).fresh is not None


def test_in_a_large_room_the_spread_is_taken_as_fitted() -> None:
    """201 machines with 2 or 8 events: Gamma(shape + count, rate + exposure) by the law fitted on the 200 with most."""
    counts = [*([2, 8] * 100), 50]
    hours = [*([1.0] * 200), 0.5]
    found, fitted = even(counts, hours), gamma_poisson_shrinkage(counts[:200], hours[:200])
    assert found.machines[200].mean == pytest.approx((fitted.shape + 50) / (fitted.rate + 0.5))
    assert found.machines[1].mean == pytest.approx((fitted.shape + 8) / (fitted.rate + 1))
    assert found.fresh is not None
    assert found.fresh.mean == pytest.approx(fitted.shape / fitted.rate)


def test_every_option_says_what_it_needs() -> None:
    assert list(NEEDS) == ["keep", "overhaul", "replace", "lighter duty"]
    assert {key for keys in NEEDS.values() for key in keys} <= set(Costs.__dataclass_fields__)
