"""Charts: the same bytes each time, hatches for states, words escaped, and a sentence that says what is seen."""

from __future__ import annotations

import re
from typing import Any

from pipeline.render import charts
from pipeline.render.figures_svg import STAND_INS

HOSTILE = '<script>alert("x")</script>'
GROUP: dict[str, Any] = {
    "channel": HOSTILE,
    "air_s": 36_000.0,
    "covered_s": 18_000.0,
    "unproved_s": 7_200.0,
    "exposed_s": 3_600.0,
    "lost_s": 36.0,
    "unknown_s": 7_164.0,
}


def machine(name: str, air_h: float, value: float, high: float) -> dict[str, Any]:
    rate = {"value": value, "low": 0.0, "high": high}
    return {"machine": name, "air_s": air_h * 3600, "protect_switches_per_1000_air_h": rate}


def test_every_state_has_its_hatch_and_no_stand_in_is_left() -> None:
    svg = charts.hours_bar([GROUP], "channel", "hours").svg
    for state, colour in STAND_INS.items():
        assert colour not in svg
        if state != "plain":
            assert f"url(#hatch-{state.replace(' ', '-')})" in svg


def test_words_are_escaped_in_the_picture_and_in_its_sentence() -> None:
    figure = charts.hours_bar([GROUP], "channel", "hours")
    assert "<script" not in figure.svg
    assert "&lt;script&gt;" in figure.svg
    # 36,000 s = 10 h on air, half of it covered: 5 h
    assert "10.0 h on air, of these 5.00 h covered, 2.00 h unproved, 1.00 h exposed, 36 s lost" in figure.says


def test_the_same_chart_gives_the_same_bytes_and_reaches_for_nothing() -> None:
    first, second = (charts.transport_rates([machine("T1", 200, 5, 9)], 4.0, "rates").svg for _ in range(2))
    assert first == second
    assert "http" not in first
    assert not re.search(r"\d\.\d{3,}", first)


def test_transports_stand_in_the_order_given_and_a_small_one_does_not_stretch_the_scale() -> None:
    rows = [machine("T9", 200, 50, 90), machine("T1", 200, 10, 20), machine("T5", 1, 0, 3689)]
    svg = charts.transport_rates(rows, 30.0, "rates").svg
    names = re.findall(r">(T\d)</text>", svg)
    assert names == ["T9", "T1", "T5"]
    labels = [float(label) for label in re.findall(r">(\d+)</text>", svg)]
    assert max(labels) <= 150  # 2.5 times the highest rate of 50 is 125, and not the 3,689 of one hour's upper limit


def test_a_transport_without_air_has_no_rate() -> None:
    idle = {
        "machine": "T3",
        "air_s": 0.0,
        "protect_switches_per_1000_air_h": {"value": None, "low": None, "high": None},
    }
    figure = charts.transport_rates([machine("T1", 200, 5, 9), idle], None, "rates")
    assert "T3" not in figure.svg


def test_unknown_causes_are_hatched_and_keep_their_place() -> None:
    causes = [
        {"top": "unknown", "second": "record missing", "count": 9, "lost_s": 40.0},
        {"top": "server", "second": None, "count": 1, "lost_s": 2.0},
    ]
    figure = charts.causes_bars(causes, "causes")
    assert "url(#hatch-not-known)" in figure.svg
    assert figure.svg.index("unknown: record missing") < figure.svg.index(">server<")
    assert figure.says == "Causes. unknown: record missing: 9 events, 40 s lost; server: 1 event, 2 s lost."


def test_clips_of_two_charts_on_a_page_do_not_meet() -> None:
    ids = [
        set(re.findall(r'id="([^"]+)"', charts.transport_rates([machine("T1", 200, 5, 9)], 4.0, name).svg))
        for name in ("one", "two")
    ]
    assert ids[0]
    assert not ids[0] & ids[1]


def test_of_3_000_machines_the_chart_holds_those_with_most_air_in_their_own_order() -> None:
    """Machine k was on air k h: most have T2940 to T2999, and the order given is from the last to the first."""
    rows = [machine(f"T{k}", k, 5, 9) for k in range(2999, -1, -1)]
    figure = charts.transport_rates(rows, 4.0, "rates")
    names = re.findall(r">(T\d+)</text>", figure.svg)
    assert names == [f"T{k}" for k in range(2999, 2939, -1)]
    assert "Drawn are the 60 with most air time of 3,000; the table has them all." in figure.caption


def test_of_many_channels_the_bars_are_bounded_and_few_are_all_drawn() -> None:
    many = [{**GROUP, "channel": f"C{k}"} for k in range(400)]
    figure = charts.hours_bar(many, "channel", "hours")
    assert figure.says.count(" on air, of these") == charts.BARS_AT_MOST
    assert "60 with most air time of 400" in figure.caption
    assert "most air time" not in charts.hours_bar(many[:60], "channel", "hours").caption
