"""A month's tables: what came back, what is open and how old, what no ticket tells."""

from __future__ import annotations

from dataclasses import replace

from pipeline.render.comparisons import compare_months
from pipeline.render.month import month_sheet, open_tickets, repeats
from pipeline.render.reading import Reading


def test_what_came_back_is_counted_by_kind() -> None:
    parts = [
        {"machine": "T1", "reel": "K1", "recorded_on": "T7", "lost_s": 3.0},
        {"machine": "T2", "reel": "K1", "recorded_on": None, "lost_s": None},
        {"machine": "T1", "reel": None, "recorded_on": None, "lost_s": 2.0},
    ]
    assert repeats(parts) == [
        {"what": "transport", "name": "T1", "count": 2, "lost_s": 5.0},
        {"what": "reel", "name": "K1", "count": 2, "lost_s": 3.0},
    ]


def test_an_open_ticket_is_aged_at_the_end_of_the_data(reading: Reading) -> None:
    # K-2 was opened on 15 March 09:00 UTC; the data end on 31 March 11:59:58 UTC (T1's clock is 2 s fast).
    (ticket,) = open_tickets(reading, "2031-03")
    assert (ticket["ticket"], ticket["age_s"]) == ("K-2", 16 * 86_400 + 3 * 3600 - 2)
    assert open_tickets(reading, "2031-02") == []


def test_both_sides_of_what_is_unmatched(reading: Reading) -> None:
    compared = compare_months(reading.figures["months"])
    february, march = (month_sheet(reading, place, compared) for place in (0, 1))
    assert february.context["no_ticket"] == []
    assert [part["machine"] for part in march.context["no_ticket"]] == ["T1", "T3"]
    assert [ticket["ticket"] for ticket in march.context["no_event"]] == ["K-2"]


def test_what_is_not_known_is_told_with_its_size(reading: Reading) -> None:
    compared = compare_months(reading.figures["months"])
    lines = " ".join(month_sheet(reading, 1, compared).not_known)
    assert "0.50 h of air on channel Two" in lines
    assert "The data end there" in lines or "the data end there" in lines
    assert "The cause of 2 events of 2." in lines


def test_a_new_cause_is_new_only_after_the_first_month(reading: Reading) -> None:
    cause = {"top": "server", "second": "port", "count": 1, "lost_s": 0.0, "stated": 1, "running_ratio": 1.0}
    months = [{**month, "causes": [cause]} for month in reading.figures["months"]]
    again = replace(reading, figures={**reading.figures, "months": months})
    compared = compare_months(months)
    assert [month_sheet(again, place, compared).context["causes"][0]["is_new"] for place in (0, 1)] == [False, False]
    months[0]["causes"] = []
    assert month_sheet(again, 1, compared).context["causes"][0]["is_new"]
