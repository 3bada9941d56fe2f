"""The register: every kind of name leads to a page that exists, parts stay small, data stay data."""

from __future__ import annotations

import json
import re
from html import unescape

from pipeline.render.find_entries import FEW, LONGEST, Entry, Section, by_letter, find_sections, first_letter
from pipeline.render.find_pages import MOST_BYTES, find_data, find_sheets, split, weighed
from pipeline.render.lines_names import NO_LINKS
from pipeline.render.reading import Reading
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE, HOSTILE_MACHINE


def sections_of(reading: Reading) -> dict[str, Section]:
    titles = {"index.html": "Front", "incident-1.html": "Of no interest here", "machine-t1.html": "Nor this"}
    return {section.id: section for section in find_sections(reading, NO_LINKS, titles)}


def test_every_kind_of_name_is_in_it(reading: Reading) -> None:
    found = sections_of(reading)
    assert [entry.text for entry in found["machines"].entries] == ["T1", "T2", "T3", HOSTILE_MACHINE]
    assert len(found["incidents"].entries) == len(reading.incidents) == 3
    first = found["incidents"].entries[0]
    # T1 loses the picture at 19:20:00 UTC by its own clock, which is 2 s ahead; Stockholm is an hour ahead of UTC.
    assert first.text.startswith("2031-02-10 20:19:58, One: interruption, forced switch; T1, T2")
    assert first.group == "February 2031"
    assert [entry.text for entry in found["tickets"].entries][1] == "K-2, T3, 2031-03-15, fan noisy"
    assert found["tickets"].entries[1].href == "machine-t3.html#tickets"
    assert found["tickets"].entries[0].href == first.href
    assert found["programmes"].entries[0].text == "Moss (A1), 2031-02-10 20:19"
    assert [entry.text for entry in found["channels"].entries] == ["One", "Two"]
    assert [entry.href for entry in found["channels"].entries] == [None, None]
    assert found["parts"].entries == ()
    assert ("index.html", "Front") in {(entry.href, entry.text) for entry in found["pages"].entries}
    assert len(found["pages"].entries) == 1
    assert [entry.href for entry in found["reels"].entries] == [
        "reel-k0101-air.html", "reels.html#reels-k0101-protect"
    ]  # fmt: skip
    assert any(entry.href == "definitions.html#air_s" for entry in found["terms"].entries)


def test_many_entries_stand_under_their_letters() -> None:
    many = [Entry(f"{letter}{number}", None) for letter in "bA" for number in range(FEW)]
    assert [entry.group for entry in by_letter(many[:FEW])] == [""] * FEW
    assert list(dict.fromkeys(entry.group for entry in by_letter(many))) == ["A", "B"]
    assert first_letter("<éa") == "É"
    assert first_letter("…") == "–"


def test_parts_keep_every_entry_and_stay_below_their_weight() -> None:
    def section(name: str, count: int) -> Section:
        entries = tuple(Entry(f"{name} {number:03}", f"{name}.html", str(number // 10)) for number in range(count))
        return Section(name, name, name, entries)

    sections = (section("one", 5), section("two", 40), section("none", 0))
    # An entry weighs 7 letters, 8 of its page and 32 of its elements: 47. So 10 fit into 470, and 45 need five parts.
    assert weighed(sections[0].entries[0]) == 47
    parts = split(sections, 470)
    assert [sum(len(own) for _, groups in part for _, own in groups) for part in parts] == [10, 10, 10, 10, 5]
    kept = [entry for part in parts for _, groups in part for _, own in groups for entry in own]
    assert kept == [*sections[0].entries, *sections[1].entries]
    assert split((section("none", 0),), 470) == [[]]


def test_one_entry_too_large_for_a_part_has_one_alone() -> None:
    large = Section("a", "a", "a", (Entry("x" * 100, None), Entry("y", None)))
    assert len(split((large,), 50)) == 2


def test_the_data_are_an_assignment_of_plain_values(rendered: Rendered, reading: Reading) -> None:
    text = (rendered.out / "assets" / "find.js").read_text(encoding="utf-8")
    found = re.fullmatch(r"window\.airhoursFind = (.*);\n", text)
    assert found is not None
    data = json.loads(found.group(1))
    assert text.isascii()
    listed = [entry for section in sections_of(reading).values() for entry in section.entries]
    # All but the pages themselves, which are more there than here, and channels, which have lists there.
    assert {entry.text for entry in listed} - {"Front"} <= {one[1] for one in data["entries"]}
    assert any(HOSTILE in one[1] for one in data["entries"])
    assert data["said"]["many"] == "{n} entries are found."
    assert find_data(()) == find_data(())


def test_every_entry_leads_to_a_page_and_a_place(rendered: Rendered) -> None:
    pages = rendered.html
    entries = re.findall(r'<li><a href="([^"]+)">', pages["find.html"].split('id="find-register"')[1])
    assert len(entries) > 100  # most of them terms
    for href in map(unescape, entries):
        name, _, place = href.partition("#")
        assert name in pages, href
        assert not place or f' id="{place}"' in pages[name], href


def test_a_text_of_the_data_cannot_make_the_register_long(reading: Reading) -> None:
    entries = [entry for section in sections_of(reading).values() for entry in section.entries]
    assert max(len(entry.text) for entry in entries) <= LONGEST
    sheets = list(find_sheets(reading, tuple(sections_of(reading).values()), most_bytes=2_000))
    assert [sheet.name for sheet in sheets][:3] == ["find.html", "find-2.html", "find-3.html"]
    # Links from the contents lead to the machines on the first part.
    assert sheets[0].context["sections"][0][0].id == "machines"
    assert MOST_BYTES < 500_000
