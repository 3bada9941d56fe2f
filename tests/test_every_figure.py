"""Every figure on a page leads to its list: the page and place exist, and list, link and figures.json say the same.

The pages are read with the standard library alone. What a link should say is worked out here from figures.json by the
rules of the pages; what a list should add up to is the value of figures.json, bit for bit.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from html.parser import HTMLParser
from typing import Any
from urllib.parse import unquote

import pytest

from pipeline.evidence import Evidence, Scope, open_evidence
from pipeline.render.page_words import bounds, p_value, ratio, reached
from pipeline.render.words import continuity, duration, hours, percent, rate
from pipeline.render.words import figure as figure_words
from pipeline.store import Store
from tests.finished_room import Finished

pytestmark = pytest.mark.slow

VOID = {"meta", "link", "br", "img", "input", "hr"}
LINKED_PAGES = ("index.html", "transports.html")
PEOPLE = {"raw_switches": "taken_by", "raw_tickets": "written_by", "raw_reels": "recorded_by"}
JOINED = ("unprotected", "demands_failed", "continuity_bounds")
# Tables of the front page, months and transports whose numbers are no figures of figures.json, and why.
NOT_FIGURES = {
    "Incidents": "an incident's own page says what it lost, with its lines",
    "The month's events": "as there",
    "What came back": "counts of names; what comes back has a page of its own",
    "Open tickets": "ages of tickets, which stand beside them",
    "Remedies being watched, the newest": "tests of small counts; each row names its ticket and its incidents",
    "Remedies: the same cause before and since": "as there",
    "Remedies: all protect switches before and since": "as there",
    "Events by pair": "marks of the strip, which no figure of figures.json holds; each event has its own page",
    "Work and register": "sums of tickets and the register, which no figure of figures.json holds",
    "What these hours can show on air": "of the part transports of figures.json, which has formulas and no lists",
    "Losses of cover against the others": "as there; their counts and hours are linked in the table of protect duty",
    "Hours by duty": "as there; air hours are linked in the tables beside it",
    "Seen and expected on air": "as there",
    "Seen and expected as protect": "as there",
    "The room by class of work, on air": "as there",
    "The room by class of work, as protect": "as there",
}


@dataclass
class Cell:
    text: str = ""
    href: str | None = None
    is_number: bool = False


@dataclass
class Block:
    raw: str = ""
    value: str = ""


class Page(HTMLParser):
    """What a reader of a page finds: ids, cells by table, links with their texts, values by place."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[tuple[str, str]] = []
        self.cells: dict[str, list[Cell]] = {}
        self.values: dict[str, str] = {}
        self.printed: dict[str, str] = {}
        self.sums: dict[str, list[list[str]]] = {}
        self._label = ""
        self._cell: Cell | None = None
        self._href: str | None = None
        self._text = ""
        self._place = ""
        self._is_value = False
        self._row: list[str] | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if "id" in given:
            self.ids.append(given["id"])
        if tag in ("h2", "p", "li") and "id" in given:
            self._place = given["id"]
        if "aria-label" in given and given.get("role") == "region":
            self._label = given["aria-label"]
        if tag == "a" and "fig" in given.get("class", "").split():
            self._href, self._text = given["href"], ""
        if tag == "td":
            self._cell = Cell(is_number="n" in given.get("class", "").split())
        if tag == "tr":
            self._row = []
        if tag == "data":
            self.values[self._place], self._is_value = given["value"], True

    def handle_data(self, data: str) -> None:
        self._text += data
        if self._cell is not None:
            self._cell.text += data
        if self._is_value:
            self.printed[self._place] = self.printed.get(self._place, "") + data
        if self._row is not None and data.strip():
            self._row.append(data.strip())

    def handle_endtag(self, tag: str) -> None:
        if tag == "a" and self._href is not None:
            self.links.append((self._href, self._text))
            if self._cell is not None:
                self._cell.href = self._href
            self._href = None
        if tag == "td" and self._cell is not None:
            self.cells.setdefault(self._label, []).append(self._cell)
            self._cell = None
        if tag == "data":
            self._is_value = False
        if tag == "tr" and self._row is not None:
            self.sums.setdefault(self._place, []).append(self._row)
            self._row = None


@dataclass(frozen=True)
class Site:
    figures: dict[str, Any]
    pages: dict[str, Page]
    sizes: dict[str, int]
    scopes: dict[str, Scope] = field(default_factory=dict)

    def linked(self) -> Iterator[tuple[str, Scope, str]]:
        """Every linked figure: its place, its scope and the text of the link."""
        for page in self.pages.values():
            for href, text in page.links:
                name, _, place = unquote(href).partition("#")
                if name == "lines-files.html":
                    continue  # see the test of the files
                yield place, self.scopes[name], text.replace("\u00a0", " ")


@pytest.fixture(scope="module")
def site(finished: Finished) -> Site:
    result, reports = finished.result, finished.reports
    texts = {path.name: path.read_text(encoding="utf-8") for path in sorted(reports.glob("*.html"))}
    pages = {name: Page(text) for name, text in texts.items()}
    sizes = {name: len(text.encode()) for name, text in texts.items()}
    return Site(result.figures, pages, sizes, dict(scopes_by_page(result.figures)))


@pytest.fixture(scope="module")
def evidence(site: Site, finished: Finished) -> Iterator[Evidence]:
    with Store(finished.database, read_only=True) as store:
        yield open_evidence(store, site.figures, shows_persons=False)


def scopes_by_page(figures: dict[str, Any]) -> Iterator[tuple[str, Scope]]:
    """The invented room's names are plain, so that its pages are called after them in small letters."""
    yield "lines.html", Scope()
    for entry in figures["months"]:
        yield f"lines-month-{entry['month']}.html", Scope(month=entry["month"])
    for kind in ("channel", "machine"):
        for entry in figures[f"{kind}s"]:
            yield f"lines-{kind}-{entry[kind].lower()}.html", Scope(**{kind: entry[kind]})
    for entry in figures["month_channels"]:
        name = f"lines-month-{entry['month']}-channel-{entry['channel'].lower()}.html"
        yield name, Scope(month=entry["month"], channel=entry["channel"])


def entry_of(figures: dict[str, Any], scope: Scope) -> dict[str, Any]:
    if not scope.named:
        return dict(figures["total"])
    kinds = "_".join(scope.named)
    group = {"month": "months", "channel": "channels", "machine": "machines", "month_channel": "month_channels"}[kinds]
    return next(entry for entry in figures[group] if all(entry[key] == value for key, value in scope.named.items()))


def comparisons_of(figures: dict[str, Any], scope: Scope) -> dict[str, Any]:
    found = figures["comparisons"]
    if scope.month:
        return next(dict(entry) for entry in found["months"] if entry["month"] == scope.month)
    return dict(found["transports"]["machines"].get(scope.machine, {}))


def causes_of(figures: dict[str, Any], scope: Scope) -> list[dict[str, Any]]:
    return list(entry_of(figures, scope)["causes"] if scope.month else figures["causes"])


def value_of(figures: dict[str, Any], place: str, scope: Scope) -> Any:
    """What figures.json has at a place of a page of lists; of a joined one what its own figures give."""
    entry = entry_of(figures, scope)
    if place == "unprotected":
        return entry["exposed_s"] + entry["unproved_s"]
    if place == "demands_failed":
        return entry["demands"] - entry["demands_met"] - entry["demands_healed"]
    first, _, rest = place.partition(".")
    if first.startswith("cause-"):
        return causes_of(figures, scope)[int(first.removeprefix("cause-")) - 1][rest]
    source = {"comparisons": comparisons_of(figures, scope), "standby": figures["standby"]}.get(first)
    found: Any = entry if source is None else source
    for part in place.split(".") if source is None else rest.split("."):
        found = found[part]
    return found


def texts_of(figures: dict[str, Any], place: str, scope: Scope) -> set[str]:
    """What a link to a place may say, by the rules of the pages: one quantity is printed in few ways."""
    joined = joined_text(figures, place, scope)
    if joined is not None:
        return {joined}
    first, _, last = place.rpartition(".")
    value = value_of(figures, place, scope)
    if isinstance(value, int):
        words = {
            "return": "return",
            "interruptions": "interruption",
            "protect_switches": "protect switch",
            "demands": "demand",
        }
        many = {"protect_switches": "protect switches"}
        counted = (
            f"{value:,} {words[place] if value == 1 else many.get(place, words[place] + 's')}" if place in words else ""
        )
        return {f"{value:,}", counted, *cover_loss_rates(entry_of(figures, scope), place)}
    if first.startswith("to_"):
        return {reached(value), "none"} if value is None else {reached(value)}
    if place.endswith(("_s", "unprotected")):
        return {hours(value), duration(value)}
    if last in ("p", "adjusted_p"):
        return {p_value(value)}
    return {percent(value)} if last == "running_ratio" else {continuity(value)}


def joined_text(figures: dict[str, Any], place: str, scope: Scope) -> str | None:
    """What a link says that stands for a value and its limits, or for two numbers."""
    entry = entry_of(figures, scope)
    first, _, last = place.rpartition(".")
    if place == "continuity_bounds":
        return bounds(entry)
    if place == "protect_switches_per_1000_air_h":
        return rate(entry[place])
    if first.startswith("comparisons.") and last in ("ratio", "value"):
        compared = comparisons_of(figures, scope)[first.removeprefix("comparisons.")]
        return ratio(compared) if last == "ratio" else compared_value(compared, first)
    if last == "low" and first.startswith("to_"):
        return f"{reached(entry[first]['low'])} to {reached(entry[first]['high'])}"
    if place.startswith("cause-") and last == "stated":
        cause = causes_of(figures, scope)[int(first.removeprefix("cause-")) - 1]
        return f"{cause['stated']} of {cause['count']}"
    return None


def compared_value(compared: dict[str, Any], first: str) -> str:
    """An evened rate with its limits; the rate of what a month is held against alone."""
    return rate(compared) if first == "comparisons.evened" else figure_words(compared["value"])


def cover_loss_rates(entry: dict[str, Any], place: str) -> set[str]:
    from pipeline.render.transports.side_by_side import cover_loss_rate

    return {rate(cover_loss_rate(entry))} if place == "cover_losses" else set()


def test_every_link_leads_to_a_place_that_is_there_once(site: Site) -> None:
    seen = 0
    for name, page in site.pages.items():
        assert len(page.ids) == len(set(page.ids)), name
        for href, _ in page.links:
            target, _, place = unquote(href).partition("#")
            assert place in site.pages[target].ids, (name, href)
            seen += 1
    assert seen > 700  # months 3 × about 130, transports about 190, the front page about 50


def test_every_link_says_what_figures_json_has_there(site: Site) -> None:
    for place, scope, text in site.linked():
        assert text in texts_of(site.figures, place, scope), (place, scope, text)


def test_every_list_has_the_value_of_figures_json(site: Site) -> None:
    seen = 0
    for name, scope in site.scopes.items():
        page = site.pages[name]
        for place, raw in page.values.items():
            if place.startswith("clock") or (place.startswith("comparisons") and not scope.named):
                continue  # not under the group's own entry; the evidence is asked for them below
            value = value_of(site.figures, place, scope)
            assert raw == ("" if value is None else repr(value)), (name, place)
            seen += 1
    assert seen > 24 * 50


def test_every_count_of_a_file_leads_to_its_lines(site: Site) -> None:
    files = site.figures["files"]
    links = [link for link in site.pages["data-quality.html"].links if link[0].startswith("lines-files.html#")]
    assert len(links) == 4 * len(files)
    for at, (href, text) in enumerate(links):
        file, part = files[at // 4], ("read", "kept", "repeats", "set_aside")[at % 4]
        place = href.partition("#")[2]
        assert place in (f"file-{at // 4 + 1}", f"file-{at // 4 + 1}-{part.replace('_', '-')}")
        assert text == f"{file[part]:,}"
    page = site.pages["lines-files.html"]
    counts = [str(file[part]) for file in files for part in ("repeats", "set_aside")]
    assert list(page.values.values()) == counts
    listed = [row for place, rows in page.sums.items() for row in rows if place.startswith("file-") and len(row) == 2]
    shown = sum(int(count) for count in counts if int(count) <= 40)
    assert len([row for row in listed if row[0].isdigit()]) == shown > 0


def test_every_linked_figure_adds_up_exactly(site: Site, evidence: Evidence) -> None:
    """Seconds are added as whole microseconds, so that their sum is the figure to the last bit."""
    asked = {(place, scope) for place, scope, _ in site.linked()}
    for place, scope in sorted(asked, key=str):
        if place in JOINED or place == "protect_switches_per_1000_air_h":
            continue
        figure, of = place, scope
        if place.startswith("cause-"):
            number, _, figure = place.removeprefix("cause-").partition(".")
            cause = causes_of(site.figures, scope)[int(number) - 1]
            name = f"{cause['top']}: {cause['second']}" if cause["second"] else cause["top"]
            of = Scope(month=scope.month, cause=name)
        lines = evidence.lines(figure, of)
        assert lines.total == lines.value == value_of(site.figures, place, scope), (place, scope)
        if not lines.items.is_empty():
            is_time = "amount_us" in lines.items.columns
            added = sum(lines.items["amount_us" if is_time else "amount"].to_list())
            assert lines.value == (float(Fraction(added, 1_000_000)) if is_time else added), (place, scope)


def test_sums_on_a_page_add_up_to_its_figure(site: Site) -> None:
    """The last row of a table of sums, "Together", against the rows above it, as a reader with a pencil adds them."""
    added = 0
    for name in site.scopes:
        for place, rows in site.pages[name].sums.items():
            tables = "\n".join("\t".join(row) for row in rows).split("Together\t")
            if len(tables) != 2 or not tables[0].startswith(("Month\t", "Day\t")):
                continue
            body = [row.split("\t") for row in tables[0].strip().splitlines()[1:]]
            total = Fraction(tables[1].split("\t")[-1].splitlines()[0].replace(",", ""))
            assert sum(Fraction(row[-1].replace(",", "")) for row in body) == total, (name, place)
            assert float(total) == float(site.pages[name].values[place]), (name, place)
            added += 1
    assert added > 50


def test_every_cell_that_holds_a_figure_is_a_link(site: Site) -> None:
    names = [name for name in site.pages if name in LINKED_PAGES or re.fullmatch(r"month-\d{4}-\d\d\.html", name)]
    assert len(names) == 5
    linked = 0
    for name in names:
        for label, cells in site.pages[name].cells.items():
            numbers = [cell for cell in cells if cell.is_number and re.search(r"\d", cell.text)]
            plain = [cell.text for cell in numbers if cell.href is None]
            assert not plain or label in NOT_FIGURES, (name, label, plain)
            linked += len(numbers) - len(plain)
    assert linked > 700


def test_no_page_of_lists_is_heavy_and_no_person_stands_there(site: Site, finished: Finished) -> None:
    assert max(size for name, size in site.sizes.items() if name.startswith("lines")) < 500_000
    people = [name for feed, column in PEOPLE.items() for name in people_of(finished, feed, column)]
    assert len(people) > 5
    for name in site.scopes:
        text = (finished.reports / name).read_text(encoding="utf-8")
        found = [person for person in people if re.search(rf"[,;]{re.escape(person)}(?=[,;<])", text)]
        assert not found, name


def people_of(finished: Finished, feed: str, column: str) -> list[str]:
    with Store(finished.database, read_only=True) as store:
        names: list[str] = store.read(f"select distinct {column} as name from {feed} where {column} is not null")[
            "name"
        ].to_list()
    return names
