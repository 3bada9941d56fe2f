"""Filling a page's template: everything escaped, every missing name an error. What one page needs, and no more."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

import pipeline
from pipeline.render import page_words, words
from pipeline.render.definitions import read_terms
from pipeline.render.lines_names import FRONT, NO_LINKS, FigureLinks
from pipeline.render.quality import anchor
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet, incident_page, month_page

HERE = Path(__file__).parent
STYLE = "assets/airhours.css"
BOUNDS = ("continuity_low", "continuity_high")


def page_environment(reading: Reading, links: FigureLinks | None = None) -> jinja2.Environment:
    """The templates' environment: everything escaped, every missing name an error.

    ``links`` say where the lists behind the figures stand; None: they stand where a run has put them, and this page has
    none of them.
    """
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
        "fig": (links or NO_LINKS).fig,
        "file_fig": (links or NO_LINKS).file_fig,
        "lines_front": FRONT if links is None or links.pages else None,
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
