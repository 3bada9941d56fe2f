"""Pages made in a folder where an earlier run left some are those that an empty folder gets, whatever has changed."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from pipeline.measure import measure_site
from pipeline.outputs import read_manifest, write_manifest
from pipeline.render import figures_svg, incidents, render_reports
from pipeline.render.language import speaking
from pipeline.render.pieces import Pieces, piece_key, reusing
from pipeline.render.sheet import Sheet
from pipeline.settings import Settings
from pipeline.store import Store
from tests.render.small_room import SETTINGS, open_room

INCIDENT = "incident-20310210-191958-one.html"


@dataclass
class Room:
    """The small room, changed step by step."""

    store: Store
    figures: dict[str, Any]
    settings: Settings = SETTINGS
    seal: str = "of this program"
    drawn: list[str] = field(default_factory=list)

    def render(self, out: Path) -> dict[str, bytes]:
        """Render into ``out`` as a run does; returns every file of it."""
        self.drawn.clear()
        (out / "data").mkdir(parents=True, exist_ok=True)
        figures, earlier = deepcopy(self.figures), read_manifest(out)
        made = render_reports(self.store, self.settings, figures, out, earlier=earlier, seal=self.seal)
        write_manifest(out, "a run", made.pieces)
        return files_of(out)


def files_of(out: Path) -> dict[str, bytes]:
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}


@dataclass(frozen=True)
class Whole:
    """The small room before any change: its database, its figures, and every file of its first pages."""

    database: Path
    figures: dict[str, Any]
    out: Path


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Whole:
    folder = tmp_path_factory.mktemp("whole")
    with open_room(folder / "room.duckdb") as store:
        figures = measure_site(store, SETTINGS)
        Room(store, figures).render(folder / "out")
    return Whole(folder / "room.duckdb", figures, folder / "out")


@pytest.fixture
def room(whole: Whole, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[Room]:
    with Store(Path(shutil.copy(whole.database, tmp_path_factory.mktemp("room")))) as store:
        made = Room(store, deepcopy(whole.figures))
        draw, write = figures_svg._svg, incidents._sheet

        def drawing(chart: figures_svg.Chart, name: str, says: str) -> str:
            made.drawn.append(name)
            return draw(chart, name, says)

        def writing(given: incidents.Given) -> Sheet:
            made.drawn.append(given.incident["incident"])
            return write(given)

        monkeypatch.setattr(figures_svg, "_svg", drawing)
        monkeypatch.setattr(incidents, "_sheet", writing)
        yield made


@pytest.fixture
def first(whole: Whole, tmp_path: Path) -> dict[str, bytes]:
    """Every file of the pages that the room gets before any change, and all of them in ``tmp_path``."""
    shutil.copytree(whole.out, tmp_path, dirs_exist_ok=True)
    return files_of(tmp_path)


def test_nothing_is_drawn_twice_and_no_file_is_written_twice(room: Room, tmp_path: Path) -> None:
    first = room.render(tmp_path)
    assert len(room.drawn) > 3  # three incidents, and charts
    times = {name: (tmp_path / name).stat().st_mtime_ns for name in first if name.endswith(".html")}
    assert room.render(tmp_path) == first
    assert room.drawn == []
    assert {name: (tmp_path / name).stat().st_mtime_ns for name in times} == times


def test_a_page_edited_by_hand_is_drawn_anew(room: Room, first: dict[str, bytes], tmp_path: Path) -> None:
    page = tmp_path / INCIDENT
    page.write_bytes(page.read_bytes().replace(b"<h1>", b"<h1>not "))
    assert room.render(tmp_path) == first
    assert room.drawn == ["20310210-191958-one"]
    page.unlink()
    assert room.render(tmp_path) == first
    assert room.drawn == ["20310210-191958-one"]


def test_another_program_draws_everything_anew(room: Room, tmp_path: Path) -> None:
    first = room.render(tmp_path)
    everything = list(room.drawn)
    room.seal = "of another program"
    again = room.render(tmp_path)
    assert room.drawn == everything
    strip = {name: content for name, content in again.items() if not name.endswith("manifest.json")}
    assert strip == {name: content for name, content in first.items() if not name.endswith("manifest.json")}


def test_what_a_file_grew_to_is_told_without_drawing(room: Room, tmp_path: Path) -> None:
    room.figures["files"] = [{**file, "sha256": hashlib.sha256(b"1").hexdigest()} for file in room.figures["files"]]
    before = room.render(tmp_path / "used")[INCIDENT].decode()
    assert f"beginning {hashlib.sha256(b'1').hexdigest()[:12]}." in before.replace("\u00a0", " ")
    room.figures["files"] = [{**file, "sha256": hashlib.sha256(b"2").hexdigest()} for file in room.figures["files"]]
    after = room.render(tmp_path / "used")
    assert room.drawn == []
    assert f"beginning {hashlib.sha256(b'2').hexdigest()[:12]}." in after[INCIDENT].decode().replace("\u00a0", " ")
    assert after == room.render(tmp_path / "fresh")


def grown(room: Room, dice: random.Random) -> None:
    sums = [hashlib.sha256(dice.randbytes(4)).hexdigest() for _ in room.figures["files"]]
    files = zip(room.figures["files"], sums, strict=True)
    room.figures["files"] = [{**file, "sha256": sha256} for file, sha256 in files]


def told_otherwise(room: Room, dice: random.Random) -> None:
    room.store.run("update clean_tickets set symptom = ?", [f"symptom {dice.randrange(3)} <b>"])


def seen_otherwise(room: Room, dice: random.Random) -> None:
    room.store.run("update core_word_rows set detail = ?", [f"detail {dice.randrange(3)}"])


def set_otherwise(room: Room, dice: random.Random) -> None:
    room.settings = replace(room.settings, lead_s=dice.choice([300.0, 301.0]))


def spoken_otherwise(room: Room, dice: random.Random) -> None:
    language, locale = dice.choice([("en", "en-GB"), ("de", "de-AT")])
    room.settings = replace(room.settings, language=language, locale=locale)


def clocked_otherwise(room: Room, dice: random.Random) -> None:
    room.figures["clocks"] = [{**clock, "within_s": dice.choice([None, 0.25])} for clock in room.figures["clocks"]]


def counted_otherwise(room: Room, dice: random.Random) -> None:
    for month in room.figures["months"]:
        month["lost_s"] = dice.choice([1.0, 2.0])


def later(room: Room, dice: random.Random) -> None:
    room.store.run("update core_as_of set as_of_at_utc = as_of_at_utc + to_seconds(?)", [dice.randrange(3)])


def taken_away(room: Room, dice: random.Random) -> None:
    names = room.store.read("select incident from core_incidents order by incident")["incident"].to_list()
    if len(names) > 1:
        gone = dice.choice(names)
        for table in ("core_incident_recoveries", "core_incidents"):
            room.store.run(f"delete from {table} where incident = ?", [gone])


def labelled_otherwise(room: Room, dice: random.Random) -> None:
    room.store.run("update clean_bookings set reel = ?", [f"R{dice.randrange(3)}"])


CHANGES: tuple[Callable[[Room, random.Random], None], ...] = (
    grown, told_otherwise, seen_otherwise, set_otherwise, spoken_otherwise, clocked_otherwise, counted_otherwise, later,
    taken_away, labelled_otherwise,
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_whatever_changes_the_pages_are_those_of_an_empty_folder(room: Room, tmp_path: Path, seed: int) -> None:
    dice, used = random.Random(seed), tmp_path / "used"
    room.render(used)
    changes = [*CHANGES, *dice.choices(CHANGES, k=4)]
    dice.shuffle(changes)
    for step, change in enumerate(changes):
        change(room, dice)
        found, fresh = room.render(used), room.render(tmp_path / f"fresh-{step}")
        assert found == fresh, change.__name__


def listed(places: Mapping[str, Any], page: bytes) -> dict[str, Any]:
    return {"files": {"a.html": hashlib.sha256(page).hexdigest()}, "pieces": dict(places)}


def test_a_piece_is_cut_out_of_its_page_with_other_words_in_its_blanks(tmp_path: Path) -> None:
    page = "<p>é one, two.</p>".encode()  # é is two bytes: the piece begins at the 4th byte and is 13 bytes long
    (tmp_path / "a.html").write_bytes(page)
    pieces = Pieces(tmp_path, listed({"key": ["a.html", 3, 12, [[3, 3], [8, 3]]]}, page), "seal")
    assert pieces.text("key", ("three", "4")) == "é three, 4."
    pieces.settle("b.html", "<b>é three, 4.</b>".encode())
    # After "é " (3 bytes) five letters, then ", " and one more.
    assert pieces.listing() == {"key": ["b.html", 3, 12, [[3, 5], [10, 1]]]}
    assert pieces.text("key") is None  # not as many words as blanks
    assert pieces.text("another") is None


@pytest.mark.parametrize(
    "place",
    [None, [], {}, ["a.html"], ["a.html", 0, 99, []], ["a.html", -3, 2, []], ["a.html", "x", 2, []],
     ["../a.html", 0, 1, []], ["a.html", 0, 4, [[2, 9]]], ["a.html", 0, 4, [[2]]], ["a.html", 0, 4, 7],
     ["b.html", 0, 1, []], ["\0", 0, 1, []]],
)  # fmt: skip
def test_a_strange_place_is_none(tmp_path: Path, place: object) -> None:
    (tmp_path / "a.html").write_bytes(b"<p>one</p>")
    assert Pieces(tmp_path, listed({"key": place}, b"<p>one</p>"), "seal").text("key", ("x",)) is None
    assert Pieces(tmp_path, listed({"key": place}, b"<p>one</p>"), "seal").text("key") is None


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"pieces": []}', '{"files": 7}', "\ud800".encode("utf-8", "replace").decode()]
)
def test_a_strange_manifest_is_as_if_there_were_none(
    room: Room, first: dict[str, bytes], tmp_path: Path, text: str
) -> None:
    (tmp_path / "data" / "manifest.json").write_text(text, encoding="utf-8")
    assert room.render(tmp_path) == first


def test_a_key_tells_apart_all_that_is_told_and_the_language(tmp_path: Path) -> None:
    assert piece_key(1) == ""  # nothing is in reach
    with reusing(Pieces(tmp_path, {}, "seal")):
        keys = [piece_key(1), piece_key(1.0), piece_key("1"), piece_key(1, None), piece_key([1]), piece_key({"a": 1})]
        with speaking("de", "de-AT"):
            keys.append(piece_key(1))
        with reusing(Pieces(tmp_path, {}, "another")):
            keys.append(piece_key(1))
        assert len(set(keys)) == len(keys)
        assert piece_key(object()) == ""  # it tells only where it lies
    assert json.dumps(keys)
