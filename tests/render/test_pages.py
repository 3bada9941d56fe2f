"""All pages of the small room: safe, linked, self-contained, the same every time, and with the room's own figures."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

from pipeline.evidence import open_evidence
from pipeline.measure import measure_site
from pipeline.render import render_reports
from pipeline.render.comparisons import compare_months, compare_transports
from pipeline.render.filling import page_environment
from pipeline.render.pages import all_sheets
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from tests.render.conftest import Rendered
from tests.render.small_room import PERSON, SETTINGS, open_room

KINDS = (
    "index.html", "month-2031-03.html", "transports.html", "case.html", "outlook.html", "parts.html", "recording.html",
    "care.html", "together.html", "patterns.html", "clocks.html", "data-quality.html",
    "definitions.html", "incident-",
)  # fmt: skip


class Tags(HTMLParser):
    """Collects what a browser would make of a page: elements with their attributes, and ids."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    @property
    def ids(self) -> list[str]:
        return [str(attributes["id"]) for _, attributes in self.found if "id" in attributes]

    def values(self, name: str) -> list[str]:
        return [str(attributes[name]) for _, attributes in self.found if name in attributes]


def test_all_kinds_are_there(rendered: Rendered) -> None:
    names = [path.name for path in rendered.result.pages]
    assert all(any(name.startswith(kind) for name in names) for kind in KINDS)
    # Front, two months, transports and six pages on them, what comes back, clocks, data quality, definitions, three
    # incidents; four machines, the list of all reels and one reel with a fault, Find. The site states no costs, so that
    # no machine has a case of its own.
    assert len([name for name in names if not name.startswith("lines")]) == 17 + 4 + 1 + 1 + 1
    # Lists: all, two months, two channels, four machines, each channel in each month; and of the files.
    assert len([name for name in names if name.startswith("lines")]) == 1 + 2 + 2 + 4 + 4 + 1
    assert rendered.result.index == rendered.out / "index.html"


def test_hostile_words_stay_words(rendered: Rendered) -> None:
    for name, html in rendered.html.items():
        tags = Tags(html)
        assert not {tag for tag, _ in tags.found} & {"img", "iframe", "object", "form"}, name
        # Scripts are the report's own files; nothing stands between their tags.
        scripts = [attributes for tag, attributes in tags.found if tag == "script"]
        found = ["assets/find.js"] if name == "find.html" else []  # the words that Find looks through, made by a run
        assert scripts == [{"src": src, "defer": None} for src in ("assets/airhours.js", *found)], name
        assert html.count("<script") == html.count("></script>"), name
        assert not [key for _, attributes in tags.found for key in attributes if key.startswith("on")], name
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in rendered.text("incident-20310210-191958-one.html")
    assert "=cmd|" in rendered.text("incident-20310210-191958-one.html")


def test_no_person_is_printed(rendered: Rendered) -> None:
    assert not [name for name, html in rendered.html.items() if PERSON in html]


def test_nothing_comes_from_a_network(rendered: Rendered) -> None:
    for name, html in rendered.html.items():
        assert "http://" not in html, name
        assert "https://" not in html, name
        tags = Tags(html)
        assert all("//" not in value for value in tags.values("src") + tags.values("href")), name
    assert "url(" not in (rendered.out / "assets/airhours.css").read_text()


def test_every_link_and_hatch_leads_somewhere(rendered: Rendered) -> None:
    pages = {name: Tags(html) for name, html in rendered.html.items()}
    for name, tags in pages.items():
        for href in tags.values("href"):
            target, _, place = unquote(href).partition("#")
            if target.endswith(".css"):
                assert (rendered.out / target).is_file()
                continue
            assert (target or name) in pages, (name, href)
            assert not place or place in pages[target or name].ids, (name, href)
        for reference in re.findall(r"url\(#([^)]+)\)", rendered.html[name]):
            assert reference in tags.ids, (name, reference)
        assert len(tags.ids) == len(set(tags.ids)), name


def test_each_page_says_what_is_not_known_and_states_its_head(rendered: Rendered) -> None:
    for name, html in rendered.html.items():
        assert ">What is not known</h2>" in html, name
        head = html[html.index("<header>") : html.index("</header>")]
        assert "Room &lt;of&gt; &amp; tests" in head, name
        assert "31 March 2031 at 13:59:58 CEST" in head, name
        assert "Europe/Stockholm" in head, name
        assert len(html.encode()) < 500_000, name


def test_tables_and_pictures_speak(rendered: Rendered) -> None:
    for name, html in rendered.html.items():
        assert html.count("<table") == html.count("<caption>"), name
        tags = Tags(html)
        assert all(attributes.get("scope") in ("col", "row") for tag, attributes in tags.found if tag == "th"), name
        pictures = [attributes for tag, attributes in tags.found if tag == "svg" and attributes.get("role") == "img"]
        # A picture stands in a figure with its caption; only the small pair stands in a table's cell.
        assert html.count("<figure") == len([one for one in pictures if one.get("class") != "pair"]), name
        assert all(len(str(attributes["aria-label"])) > 30 for attributes in pictures), name


def test_the_policy_allows_only_this_pages_style(rendered: Rendered) -> None:
    for name, html in rendered.html.items():
        style = html[html.index("<style>") + 7 : html.index("</style>")]
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert f"style-src 'self' 'sha256-{digest}'" in html, name
        assert "default-src 'none'" in html, name
        assert not Tags(html).values("style"), name


def test_two_runs_give_the_same_bytes(rendered: Rendered, tmp_path: Path) -> None:
    with open_room() as store:
        figures = measure_site(store, SETTINGS)
        evidence = open_evidence(store, figures, shows_persons=False)
        render_reports(store, SETTINGS, figures, tmp_path, evidence=evidence)
    first = {path.relative_to(rendered.out): path.read_bytes() for path in rendered.out.rglob("*") if path.is_file()}
    second = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert first == second


def test_the_rooms_own_figures_are_printed(rendered: Rendered) -> None:
    february = rendered.text("month-2031-02.html")
    # 60 min on One and 30 min on Two; T1's clock is 2 s fast, so its loss at 19:20:00 was at 19:19:58 and lasted 14 s.
    assert "In February 2031 the room was on air for 1.50 h. It lost 14 s and had one interruption" in february
    march = rendered.text("month-2031-03.html")
    # 8 s on T3 unlocked and 40 s on standby, told as one; no protect was booked.
    assert "It lost 48 s and had one interruption" in march
    assert "Protect was needed once and never met the need" in march
    assert "Once none was there" in march
    # 30 min of B3 of which no log tells.
    assert "Nothing is known of 0.50 h" in march


def test_the_incident_shows_corrected_times_beside_the_stamps(rendered: Rendered) -> None:
    page = rendered.text("incident-20310210-191958-one.html")
    row = re.search(r"<tr id=\"line-\d+\"><td class=\"n\">\d+</td><td class=\"t\">20:19:58</td>.*?</tr>", page)
    assert row is not None
    assert "2031-02-10T19:20:00" in row.group()
    assert "0.25 s" in row.group()
    assert "picture lost" in row.group()
    assert "events.csv, line 10" in row.group()


def test_no_page_hides_a_word_of_the_templates(reading: Reading) -> None:
    # What a sheet brings goes over the words every template may call, and a hidden one fails only where it is used.
    words = set(page_environment(reading).globals)
    comparisons = {
        "months": compare_months(reading.figures["months"]),
        "transports": compare_transports(reading.figures["machines"]),
    }
    sheets = (sheet if isinstance(sheet, Sheet) else sheet.make() for sheet in all_sheets(reading, comparisons))
    hidden = {sheet.name: words & set(sheet.context) for sheet in sheets}
    assert not {name: names for name, names in hidden.items() if names}
