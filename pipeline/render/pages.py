"""From the database and the figures to the folder of pages: every page filled, checked for its words, and written."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

import pipeline
from pipeline.render import page_words, words
from pipeline.render.comparisons import compare_months, compare_transports
from pipeline.render.definitions import read_sections, read_terms
from pipeline.render.incidents import incident_sheets
from pipeline.render.index import index_sheet, period
from pipeline.render.month import month_sheets
from pipeline.render.quality import anchor, quality_sheet
from pipeline.render.reading import Reading, read_site
from pipeline.render.sheet import Sheet, incident_page, month_page
from pipeline.render.transports import transport_sheet
from pipeline.render.writing import write_pages
from pipeline.settings import Settings
from pipeline.store import Store

HERE = Path(__file__).parent
BOUNDS = ("continuity_low", "continuity_high")
STYLE = "assets/airhours.css"


@dataclass(frozen=True)
class RenderResult:
    """The pages written: the front page, all of them in order, and the comparisons printed on them as plain values."""

    index: Path
    pages: tuple[Path, ...]
    comparisons: Mapping[str, Any]


def render_reports(store: Store, settings: Settings, figures: dict[str, Any], out: Path) -> RenderResult:
    """Write the static pages of a site into ``out``; the same database and figures give the same bytes.

    Reads ``core_*``, ``clean_*``, ``measure_*`` and ``check_*`` and writes no table. ``figures`` is the content of
    figures.json. Pages of an earlier run that are no longer made are removed, other files in ``out`` stay.

    Raises:
        OutputError: ``out`` cannot be written.
    """
    reading = read_site(store, settings, figures)
    comparisons = {
        "months": compare_months(figures["months"]),
        "transports": compare_transports(figures["machines"]),
    }
    environment = page_environment(reading)
    files = {STYLE: (HERE / STYLE).read_bytes()}
    files |= {sheet.name: fill(environment, sheet).encode() for sheet in all_sheets(reading, comparisons)}
    paths = write_pages(out, files)
    pages = tuple(path for path in paths if path.suffix == ".html")
    return RenderResult(out / "index.html", pages, comparisons)


def all_sheets(reading: Reading, comparisons: Mapping[str, Any]) -> Iterator[Sheet]:
    """Every page in the order of the front page's links."""
    yield index_sheet(reading)
    yield from month_sheets(reading, comparisons["months"])
    yield transport_sheet(reading, comparisons["transports"])
    yield quality_sheet(reading)
    yield Sheet(
        "definitions.html", "definitions.html.j2", "Definitions", period(reading.figures), {"sections": read_sections()}
    )
    yield from incident_sheets(reading)


def page_environment(reading: Reading) -> jinja2.Environment:
    """The templates' environment: everything escaped, every missing name an error."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    terms = read_terms()

    def term(id_: str, name: str | None = None) -> Markup:
        return Markup('<a href="{}">{}</a>').format(terms[id_].href, name or terms[id_].name)

    def touched(check: Mapping[str, Any]) -> Markup:
        names = [name.strip() for name in (check["touches"] or "").split(",") if name.strip()]
        names = list(dict.fromkeys("continuity_bounds" if name in BOUNDS else name for name in names))
        links = [term(name) if name in terms else Markup("{}").format(name.replace("_", " ")) for name in names]
        return Markup(", ").join(links) or Markup("no figure")

    environment.globals |= {name: getattr(words, name) for name in page_words.FROM_WORDS}
    environment.globals |= page_words.FUNCTIONS
    environment.globals |= {
        "term": term,
        "touched": touched,
        "version": pipeline.__version__,
        "site": reading.figures["site"],
        "settings": reading.settings,
        "local": reading.local,
        "zone": reading.settings.timezone,
        "as_of": reading.local.when(reading.as_of) if reading.as_of else "no data",
        "failed_stops": [{**check, "anchor": anchor(check["check_id"])} for check in reading.failed_stops],
        "months_nav": [
            {"href": month_page(month["month"]), "name": words.month_name(month["month"])}
            for month in reading.figures["months"]
        ],
        "incident_page": incident_page,
        "month_page": month_page,
    }
    return environment


def fill(environment: jinja2.Environment, sheet: Sheet) -> str:
    """One page's HTML."""
    site = str(environment.globals["site"])
    style = print_head(sheet.title if site in sheet.title else f"{site}, {sheet.title}")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return environment.get_template(sheet.template).render(
        **sheet.context,
        title=sheet.title,
        period=sheet.period,
        not_known=sheet.not_known,
        is_front=sheet.is_front,
        page_style=Markup(style),  # noqa: S704 - every sign that could end the style is written as a code
        page_style_hash=f"sha256-{digest}",
    )


def print_head(text: str) -> str:
    """The style rule that puts ``text`` at the head of each printed page, safe for any text."""
    coded = "".join(
        letter if letter.isascii() and letter.isalnum() else f"\\{ord(letter):06x}" for letter in text[:120]
    )
    return f'@page{{@top-left{{content:"{coded}";font:8.5pt Georgia,serif}}}}'
