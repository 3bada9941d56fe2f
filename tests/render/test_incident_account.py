"""Every sentence of every account against the rows of the files, and that a wrong sentence would be noticed.

The reader (``account_checker``, ``raw_site``) shares nothing with the program: it opens the files at the lines that a
sentence names. The sample room's clocks are those of its README: VT6 is 42.000 s ahead of the house, all others right.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from pipeline.ingest import load_site
from pipeline.measure import measure_site
from pipeline.model import build_models
from pipeline.render.filling import fill, page_environment
from pipeline.render.incident_words import account
from pipeline.render.incidents import incident_sheets
from pipeline.render.reading import Reading, read_site
from pipeline.render.sentences import Sentence
from pipeline.settings import read_settings
from pipeline.store import Store
from tests.finished_room import Finished
from tests.render import account_kinds_air, account_kinds_rest  # noqa: F401 - they register the kinds
from tests.render.account_checker import KINDS, D, T, read_account
from tests.render.account_rooms import ROOMS
from tests.render.raw_site import RawSite

pytestmark = pytest.mark.slow

STEP_S = 0.001  # the ± that a clock read to the millisecond can have at best


@dataclass(frozen=True, eq=False)
class Told:
    """A site with its accounts: the incident's id and the sentences of each part."""

    raw: RawSite
    margins: dict[str, float | None]
    reading: Reading
    accounts: tuple[tuple[str, list[Sentence]], ...]


def tell(site: Path, fast_s: dict[str, float]) -> Told:
    """Load, model and measure a site, and have every part of every incident told."""
    settings = read_settings(site)
    with Store(site / "airhours.duckdb") as store:
        load_site(site, settings, store)
        build_models(store)
        return tell_as_read(site, store, measure_site(store, settings), fast_s)


def tell_as_read(site: Path, store: Store, figures: dict[str, Any], fast_s: dict[str, float]) -> Told:
    """The same of a store that is measured already."""
    reading = read_site(store, read_settings(site), figures)
    raw = RawSite(site, "Europe/Stockholm", fast_s)
    known = {clock["machine"]: clock["within_s"] for clock in figures["clocks"]}
    margins = {machine: known.get(machine) for machine in raw.events}
    seen: set[str] = set()
    accounts = []
    for part in reading.parts:
        around = reading.around_of(part["incident"])
        accounts.append((part["incident"], account(part, around, reading.local, is_first=part["incident"] not in seen)))
        seen.add(part["incident"])
    return Told(raw, margins, reading, tuple(accounts))


@pytest.fixture(scope="module")
def sample(finished: Finished) -> Told:
    with Store(finished.database, read_only=True) as store:
        return tell_as_read(finished.site, store, finished.result.figures, {"VT6": 42.0})


@pytest.fixture(scope="module")
def rooms(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Told]:
    folder = tmp_path_factory.mktemp("rooms")
    return {name: tell(write(folder / name.replace(" ", "-")), {}) for name, write in ROOMS.items()}


@cache
def read(told: Told) -> tuple[tuple[str, str, str, list[str]], ...]:
    """(incident, kind, text, problems) of every sentence of a site."""
    return tuple(
        (incident, kind, text, problems)
        for incident, sentences in told.accounts
        for kind, text, problems in read_account(sentences, told.raw, told.margins)
    )


def text_of(told: Told, place: int) -> str:
    return " ".join(sentence.text for sentence in told.accounts[place][1])


def test_every_sentence_of_the_sample_room_is_borne_out_by_its_lines(sample: Told) -> None:
    found = list(read(sample))
    assert len({incident for incident, *_ in found}) > 95
    assert len(found) > 800
    assert [one for one in found if one[3]] == []


def test_the_clocks_of_the_sample_room_are_known_to_the_millisecond(sample: Told) -> None:
    assert set(sample.margins.values()) <= {STEP_S, 0.000001}


@pytest.mark.parametrize("name", ROOMS)
def test_every_sentence_of_a_small_room_is_borne_out_by_its_lines(rooms: dict[str, Told], name: str) -> None:
    found = list(read(rooms[name]))
    assert found
    assert [one for one in found if one[3]] == []


def test_every_kind_of_sentence_is_told_somewhere(sample: Told, rooms: dict[str, Told]) -> None:
    told = {kind for site in (sample, *rooms.values()) for _, kind, _, _ in read(site)}
    assert {name for name, _, _ in KINDS} - told == set()


def test_one_cause_behind_two_failures(rooms: dict[str, Told]) -> None:
    # 18:20:00 UTC is 20:20:00 CEST; A2 fell out 0.3 s and B1 1.1 s after A1. No clock of this room is known.
    text = text_of(rooms["one cause"], 0)
    both = "A2 logged unlock at 20:20:00.30 (± not known) and B1 logged picture lost at 20:20:01.10 (± not known)"
    assert f"Within 5 s of it {both}: what struck all may lie outside the machines." in text
    assert "Ticket F1 states the cause: Cooling, air and power, mains (stated: mains)." in text
    assert "By that it lies outside the machine, in the mains." in text


def test_a_fault_in_the_recording_is_told_as_one(rooms: dict[str, Told]) -> None:
    text = next(text for place in range(2) if "same spot" in (text := text_of(rooms["recorded fault"], place)))
    assert "A2 logged picture lost too, at 20:25:00.02 (± not known), 0.02 s (± not known) from A1" in text
    assert "the two were in step, so if their clocks agree it is the same spot of both copies." in text
    assert "Protect cannot help against that." in text
    assert "The copies booked were K-T1A on A1, recorded on B1 and K-T1B on A2, recorded on B2." in text
    assert "No other machine of the room logged a fault within 5 s; B1 and B2 had rolled last and logged none." in text
    assert "It points at the recording, or at what both machines were fed, and not at A1." in text
    assert "on the record side" in text


def test_a_precaution_says_what_gave_the_sign_and_rulings_what_they_overrode(rooms: dict[str, Told]) -> None:
    told = rooms["precaution"]
    whole = " ".join(text_of(told, place) for place in range(len(told.accounts)))
    assert "The first sign in the window was on A1, alarm: guide pressure, at 20:15:00 (± not known), 4 s" in whole
    assert "A2 was taken in place of A1, a switch made as a precaution; the stated reason is precaution." in whole
    assert (
        "It was ruled to be a switch made as a precaution (ruling R1, decided 2031-05-15 20:00:00: desk log tells"
        in whole
    )
    assert "the program found a switch that nothing explains." in whole
    assert "The cause was ruled to be Routing and feeds, patch or cable (ruling R2" in whole
    assert "It was ruled to belong to this incident (ruling R3" in whole


def test_a_protect_that_was_not_ready_is_told_with_what_it_was_doing(rooms: dict[str, Told]) -> None:
    text = text_of(rooms["not ready"], [name for name, _ in rooms["not ready"].accounts].index("20310505-182000-one"))
    assert "protect was not good (A2: unlock at 20:18:00 (± not known))." in text
    assert "Protect was needed and did not meet the need." in text
    assert "Standby was taken at 20:20:05 (± under 0.01 s)" in text


OTHER = {"VT1": "VT2", "A1": "A2", "B1": "B2", "B2": "B1"}
MUTATED = 2  # sentences of each kind that are made wrong in every way


def changes(sentence: Sentence, spare: tuple[str, int]) -> Iterator[tuple[str, Sentence]]:
    """The sentence with one thing wrong: a time a second late, another machine, another length, no or other lines."""
    for match in re.finditer(T, sentence.text):
        text = match.group()
        late = re.sub(r"(\d\d:\d\d:)(\d\d)", lambda m: f"{m.group(1)}{(int(m.group(2)) + 1) % 60:02d}", text, count=1)
        yield "time", replace(sentence, text=_put(sentence.text, match, late))
    for match in re.finditer(r"\b(?:VT\d|[AB]\d)\b", sentence.text):
        other = OTHER.get(match.group()) or ("VT1" if match.group() != "VT1" else "VT2")
        other = "A2" if match.group() == "A1" else other if match.group() != "A2" else "A1"
        yield "machine", replace(sentence, text=_put(sentence.text, match, other))
    for match in re.finditer(rf"(?<=[ ,]){D}(?= (?:after|before|from|of air|later)|\.)", sentence.text):
        longer = re.sub(r"\d+", lambda m: str(int(m.group()) + 2), match.group(), count=1)
        yield "length", replace(sentence, text=_put(sentence.text, match, longer))
    for one, other in (("met the need", "did not meet the need"), ("a forced switch", "a return"), (" lost", " back")):
        if one in sentence.text:
            yield "word", replace(sentence, text=sentence.text.replace(one, other, 1))
    if sentence.lines:
        yield "no lines", replace(sentence, lines=())
        yield "other lines", replace(sentence, lines=(spare,))
        yield "no such line", replace(sentence, lines=(*sentence.lines, ("events/none.csv", 2)))


def _put(text: str, match: re.Match[str], new: str) -> str:
    return text[: match.start()] + new + text[match.end() :]


def is_noticed(sentences: list[Sentence], place: int, told: Told) -> bool:
    """Whether the wrong sentence has a problem, or its neighbours have, whose beginning a dated one sets."""
    alone = read_account(sentences, told.raw, told.margins, only=place)
    return any(problems for _, _, problems in alone) or any(
        problems for _, _, problems in read_account(sentences, told.raw, told.margins)
    )


def test_a_wrong_sentence_is_noticed(sample: Told, rooms: dict[str, Told]) -> None:
    tried: dict[str, int] = {}
    missed: list[tuple[str, str, str]] = []
    for told in (sample, *rooms.values()):
        spare = next(place for place, fact in told.raw.facts.items() if fact.kind == "event")
        for _, sentences in told.accounts:
            kinds = [kind for kind, _, _ in read_account(sentences, told.raw, told.margins)]
            for place, (kind, sentence) in enumerate(zip(kinds, sentences, strict=True)):
                if tried.get(kind, 0) >= MUTATED:
                    continue
                tried[kind] = tried.get(kind, 0) + 1
                for how, wrong in changes(sentence, spare):
                    own = [*sentences[:place], wrong, *sentences[place + 1 :]]
                    if not is_noticed(own, place, told):
                        missed.append((kind, how, wrong.text))
    assert missed == []
    assert len(tried) == len({name for name, _, _ in KINDS})


def test_the_page_prints_for_each_sentence_the_numbers_of_its_lines(sample: Told, rooms: dict[str, Told]) -> None:
    for told in (sample, *rooms.values()):
        environment = page_environment(told.reading)
        for sheet in incident_sheets(told.reading):
            html = fill(environment, sheet).replace("\u00a0", " ")
            rows = dict(re.findall(r'<tr id="line-(\d+)".*?<td class="t">([^<]+)</td></tr>', html))
            for one in sheet.context["accounts"]:
                for sentence in one["sentences"]:
                    for file, line in sentence.lines:
                        number = str(sheet.context["numbers"][file, line])
                        assert rows[number] == f"{file}, line {line}"
            links = re.findall(r'href="#line-(\d+)"', html)
            assert set(links) <= set(rows), sheet.name
            assert len(html.encode()) < 500_000, sheet.name


def test_lines_stand_in_order_of_time_and_are_numbered_through(sample: Told) -> None:
    for sheet in incident_sheets(sample.reading):
        lines: list[dict[str, Any]] = sheet.context["lines"]
        assert [line["number"] for line in lines] == list(range(1, len(lines) + 1))
        assert all(above["at_utc"] <= line["at_utc"] for above, line in pairwise(lines))
