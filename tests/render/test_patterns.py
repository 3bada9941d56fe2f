"""The page on what comes back: sentences that keep to what was found, tables that add up, nothing hidden."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from pipeline.measure.coincidences import ACROSS, WITHIN
from pipeline.measure.pattern_exposures import HOUR, KINDS
from pipeline.render import pattern_words
from pipeline.render.filling import fill, page_environment
from pipeline.render.language import speaking
from pipeline.render.pattern_words import call, kind_names, leads, name_word, nameless, titles, together_kinds
from pipeline.render.patterns import MOST_LINKS, MOST_ROWS, again, joint, kind_table, ordered, together
from pipeline.render.patterns import pattern_sheet as sheet
from pipeline.render.reading import Reading
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE_MACHINE


def row(kind: str, name: str | None, count: int, p: float | None, **more: Any) -> dict[str, Any]:
    blank = {
        "kind": kind, "name": name, "count": count, "incidents": count, "exposure_s": 3600.0, "expected": 0.5,
        "p": p, "adjusted_p": p, "calls_at": 4, "which": [],
    }  # fmt: skip
    return blank | more


def test_every_kind_has_its_words() -> None:
    assert set(titles()) == set(leads()) == set(kind_names()) == set(pattern_words.KINDS) == {*KINDS, HOUR}
    assert all("Not compared" in nameless(kind, "1 event") for kind in KINDS)
    assert set(together_kinds()) == {WITHIN, ACROSS}


def test_what_stands_out_is_told_with_its_size() -> None:
    told = call(row("reel", "K1", 5, 0.0001, adjusted_p=0.03, incidents=3))
    assert told == (
        "Stands out: reel K1, with 5 events in three incidents, where its 1.00 h on air would bring 0.50 "
        "(adjusted p = 0.03)."
    )
    assert call(row("reel", "K1", 5, 0.0001, incidents=1)).endswith("One bad evening is no pattern yet.")


def test_what_does_not_stand_out_is_not_called_good(reading: Reading) -> None:
    told = " ".join(sheet(reading).context["told"])
    assert "No name stands out" in told
    assert "good" not in told


def test_coincidences_in_words() -> None:
    tests = [
        {"kind": WITHIN, "count": 7, "expected": 0.0119, "p": 1e-9, "adjusted_p": 1e-8},
        {"kind": ACROSS, "count": 0, "expected": 0.5, "p": 1.0, "adjusted_p": 1.0},
    ]
    found: dict[str, Any] = {"level": 0.05, "coincidences": {"window_s": 5.0, "kinds": tests}}
    within, across = together(found)
    assert within == (
        "On machines of one transmission, faults seven times began within 5 s of each other, where luck would bring at "
        "most 0.01 such coincidences: more than luck easily gives (adjusted p below 0.001)."
    )
    assert across == (
        "On machines with nothing in common but the room, faults never began within 5 s of each other, where luck "
        "would bring at most 0.50 such coincidences: no more than luck easily gives (adjusted p = 1.00)."
    )
    tests[1]["p"] = None
    assert together(found)[1] == "No machines with nothing in common but the room ever ran well together."


def test_a_reel_that_is_in_several_coincidences_is_named() -> None:
    """K1 is in the first and the third, once though both copies carry its name; K2 in the first alone."""
    clusters = [[("K1",), ("K1",), ("K2",)], [(None,), ("K3",)], [("K1",), (None,)]]
    found = {"coincidences": {"clusters": [{"onsets": [{"reel": reel} for (reel,) in one]} for one in clusters]}}
    assert again(found) == ["Booked in more than one of these: K1 (2 times)."]
    assert again({"coincidences": {"clusters": []}}) == []


def test_the_span_of_a_coincidence_is_as_sure_as_both_clocks() -> None:
    assert joint([{"within_s": 0.25}, {"within_s": None}, {"within_s": 0.5}]) == 0.75
    assert joint([{"within_s": 0.25}, {"within_s": None}]) is None


def test_a_long_table_keeps_the_least_likely_and_sums_the_rest() -> None:
    """30 reels with an event, p rising: 12 are printed, 18 summed; the quiet ones and the nameless come after them."""
    rows = [row("reel", f"K{number:02d}", 2, number / 100) for number in range(30)]
    found = {
        "level": 0.05,
        "names": [*reversed(rows), row("reel", None, 3, None)],
        "quiet": [{"kind": "reel", "names": 4, "exposure_s": 7200.0, "expected": 1.0}],
    }
    table = kind_table(found, "reel")
    assert [one["name"] for one in table["rows"]] == [f"K{number:02d}" for number in range(MOST_ROWS)]
    assert [one["is_called"] for one in table["rows"]] == [number < 5 for number in range(MOST_ROWS)]
    assert table["more"] == {"count": 36, "exposure_s": 18 * 3600.0, "expected": 9.0, "names": 18, "most": 2}
    assert (table["quiet"]["names"], table["nameless"]["count"]) == (4, 3)
    hours = [row("hour of the local day", f"{number:02d}", 1, 1 - number / 100) for number in range(24)]
    by_clock = kind_table({"level": 0.05, "names": hours, "quiet": []}, "hour of the local day")
    assert [one["name"] for one in by_clock["rows"]] == [f"{number:02d}" for number in range(24)]


def test_order_is_never_that_of_counts() -> None:
    rows = [row("machine", "A", 9, 0.8), row("machine", "B", 1, 0.1), row("machine", "C", 1, None)]
    assert [one["name"] for one in ordered(rows)] == ["B", "A", "C"]


def test_the_page_of_the_small_room(rendered: Rendered, reading: Reading) -> None:
    """Three events in 4 h 15 min of air; by hand from the small room.

    Air: A1 1 h, B1 30 min, A2 1 h 30 min, B2 45 min, B3 30 min = 4 h 15 min; the events are T1's loss, T1's precaution
    and T3's loss. T1 fed A1 until the take at 19:20:12 and A2 until the take at 18:40: 20 min 12 s and 40 min, 3,612 s.
    """
    found = rendered.figures["patterns"]
    assert (found["events"], found["air_s"]) == (3, 4.25 * 3600)
    machines = {one["name"]: one for one in found["names"] if one["kind"] == "machine"}
    assert (machines["T1"]["count"], machines["T1"]["exposure_s"]) == (2, 3612.0)
    assert machines["T1"]["expected"] == pytest.approx(3 * 3612 / 15300)
    # T3's loss goes on with 40 s on standby, which belongs to no machine: 30 min of B1 and 44 min 20 s of B2.
    assert (machines["T3"]["count"], machines["T3"]["exposure_s"]) == (1, 4460.0)
    assert machines[None]["exposure_s"] == 40.0
    page = rendered.text("patterns.html")
    assert "3 events in 4.25 h of air" in page
    assert "What this page cannot say" in page
    assert HOSTILE_MACHINE not in page
    assert "T3 and Z9&#34;&gt;&lt;img" in page
    for kind in sheet(reading).context["kinds"]:
        counts = sum(one["count"] for one in kind["rows"]) + (kind["more"] or {"count": 0})["count"]
        assert counts + (kind["nameless"] or {"count": 0})["count"] == 3


def test_few_links_in_one_cell(reading: Reading) -> None:
    incident = reading.incidents[0]["incident"]
    many = row("machine", "T1", 20, 0.01, which=[incident] * 20)
    figures = {**reading.figures, "patterns": {**reading.figures["patterns"], "names": [many]}}
    (behind,) = sheet(replace(reading, figures=figures)).context["behind"]
    assert (len(behind["which"]), behind["unlinked"]) == (MOST_LINKS, 20 - MOST_LINKS)


def test_a_room_full_of_trouble_still_fits_on_a_page(reading: Reading) -> None:
    """300 names below 0.05 and 500 coincidences: the page says how many there are and prints the first and the last."""
    onset = {"machine": "T1", "at": "2031-03-01T10:00:00Z", "within_s": 0.0, "what": "unlock", "reel": None}
    cluster = {"kind": ACROSS, "onsets": [onset | {"incident": None}, onset | {"machine": "T2", "incident": None}]}
    names = [row("reel", f"K{n}", 2, 0.001, which=[reading.incidents[0]["incident"]]) for n in range(300)]
    patterns = reading.figures["patterns"]
    patterns = {**patterns, "names": names, "coincidences": {**patterns["coincidences"], "clusters": [cluster] * 500}}
    full = replace(reading, figures={**reading.figures, "patterns": patterns})
    page = fill(page_environment(full), sheet(full))
    assert "Of 300 such names the least likely." in page
    assert "The latest of 500; all are in data/coincidences.csv." in page
    assert page.count("T1 unlock and T2 unlock") == 200
    assert len(page.encode()) < 500_000


def test_coincidences_with_long_names_keep_the_page_below_its_weight(reading: Reading) -> None:
    """200 coincidences of four machines and reels with names of 300 bytes weigh 500 kB: the latest are printed."""
    onset = {"at": "2031-03-01T10:00:00Z", "within_s": 0.0, "what": "unlock", "incident": None}
    onsets = [{**onset, "machine": f"{'é' * 149}{k}", "reel": f"{'ö' * 149}{k}"} for k in range(4)]
    patterns = reading.figures["patterns"]
    coincidences = {**patterns["coincidences"], "clusters": [{"kind": ACROSS, "onsets": onsets}] * 200}
    full = replace(reading, figures={**reading.figures, "patterns": {**patterns, "coincidences": coincidences}})
    page = fill(page_environment(full), sheet(full))
    assert len(page.encode()) < 500_000
    assert "The latest of 200; all are in data/coincidences.csv." in page
    assert 50 < page.count("ö" * 149 + "3") < 200


def test_in_german_the_page_has_its_words_and_the_comma(reading: Reading) -> None:
    german = replace(reading, settings=replace(reading.settings, language="de", locale="de-DE"))
    with speaking("de", "de-DE"):
        page = fill(page_environment(german), sheet(german)).replace("\u00a0", " ")
        told = call(row("reel", "K1", 5, 0.0001, adjusted_p=0.03, incidents=3))
        hour = name_word("hour of the local day", "12:00 to 13:00")
    assert "3 Ereignisse in 4,25 h Sendezeit" in page
    assert "What this page cannot say" not in page
    assert told == (
        "Fällt auf: Band K1, 5 Ereignisse (3 Vorfälle), wo nach 1,00 h auf Sendung 0,50 zu erwarten wären "
        "(korrigiertes p = 0,03)."
    )
    assert hour == "12:00 bis 13:00"
    assert name_word("pair", "VT1 and VT2") == "VT1 and VT2"


def test_every_page_leads_to_it(rendered: Rendered) -> None:
    assert 'href="patterns.html"' in rendered.text("index.html")
    march = rendered.text("month-2031-03.html")
    assert march.count('href="patterns.html"') >= 1
