"""Filling a page's template: everything escaped, every missing name an error. What one page needs, and no more."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup, escape

import pipeline
from pipeline.render import page_words, words
from pipeline.render.compiled import COMPILED
from pipeline.render.contents import contents
from pipeline.render.definitions import read_terms
from pipeline.render.language import decimal, say, say_counted, say_html, translated, whole
from pipeline.render.lines_names import FRONT, NO_LINKS, FigureLinks
from pipeline.render.palette import HATCHES
from pipeline.render.pieces import pieces_in_reach
from pipeline.render.print_head import counted_words, print_head
from pipeline.render.quality import anchor
from pipeline.render.quality_words import touch_word
from pipeline.render.reading import Reading
from pipeline.render.sheet import LateSheet, Sheet, incident_page, month_page
from pipeline.render.strip_thumb import thumb_drawer

HERE = Path(__file__).parent
BOUNDS = ("continuity_low", "continuity_high")
MAIN, END = '<main id="text">\n', "</main>"  # around what a page says, in base.html.j2


def page_environment(reading: Reading, links: FigureLinks | None = None) -> jinja2.Environment:
    """The templates' environment: everything escaped, every missing name an error.

    ``links`` say where the lists behind the figures stand; None: they stand where a run has put them, and this page has
    none of them.
    """
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        bytecode_cache=COMPILED,
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    terms = read_terms()
    lines_front = FRONT if links is None or links.pages else None

    def term(id_: str, name: str | None = None) -> Markup:
        return Markup('<a href="{}">{}</a>').format(terms[id_].href, name or terms[id_].name)

    def touched(check: Mapping[str, Any]) -> Markup:
        names = [name.strip() for name in (check["touches"] or "").split(",") if name.strip()]
        names = list(dict.fromkeys("continuity_bounds" if name in BOUNDS else name for name in names))
        links = [term(name) if name in terms else escape(touch_word(name)) for name in names]
        return Markup(", ").join(links) or Markup("{}").format(say("no figure"))

    environment.globals |= {name: getattr(words, name) for name in page_words.FROM_WORDS}
    environment.globals |= page_words.FUNCTIONS
    environment.globals |= {
        "say": say_html,
        "say_counted": say_counted,
        "whole": whole,
        "decimal": decimal,
        "language": reading.settings.language,
        "term": term,
        "touched": touched,
        "version": pipeline.__version__,
        "site": reading.figures["site"],
        "settings": reading.settings,
        "local": reading.local,
        "zone": reading.settings.timezone,
        "as_of": reading.local.when(reading.as_of) if reading.as_of else say("no data"),
        "failed_stops": [
            {**check, "rule": translated(check["rule"]), "anchor": anchor(check["check_id"])}
            for check in reading.failed_stops
        ],
        "contents": contents((month["month"] for month in reading.figures["months"]), lines_front),
        "hatches": HATCHES,
        "pair_thumb": thumb_drawer(reading),
        "fig": (links or NO_LINKS).fig,
        "file_fig": (links or NO_LINKS).file_fig,
        "lines_front": lines_front,
        "incident_page": incident_page,
        "month_page": month_page,
        "machine_link": reading.links.machine_link,
        "reel_link": reading.links.reel_link,
    }
    return environment


def fill(environment: jinja2.Environment, sheet: Sheet | LateSheet) -> str:
    """One page's HTML. Of a late sheet that an earlier run made of the same, only head and foot are filled anew."""
    if isinstance(sheet, Sheet):
        return _filled(environment, sheet)
    pieces = pieces_in_reach()
    kept = pieces.text(sheet.key, sheet.blanks) if pieces and sheet.key else None
    if kept is not None:
        context = {"kept": Markup(kept)}  # noqa: S704 - filled in by a run before
        return _filled(environment, Sheet(sheet.name, "kept.html.j2", sheet.title, sheet.period, context))
    page = _filled(environment, sheet.make())
    if pieces and sheet.key:
        text = page[page.index(MAIN) + len(MAIN) : page.rindex(END)]
        with suppress(ValueError):  # a blank that is not printed as foretold: the page is drawn anew next time
            pieces.made(sheet.key, text, blank_places(text, sheet))
    return page


def blank_places(text: str, sheet: LateSheet) -> list[tuple[int, int]]:
    """Where the blanks of a sheet stand in what it says, and how long they are, in bytes.

    Raises:
        ValueError: one of them is not there.
    """
    places, at = [], text.index(sheet.after)
    for blank, printed in zip(sheet.blanks, sheet.printed, strict=True):
        before, _, behind = printed.partition("\0")
        at = text.index(before + blank + behind, at) + len(before)
        places.append((len(text[:at].encode()), len(blank.encode())))
    return places


def _filled(environment: jinja2.Environment, sheet: Sheet) -> str:
    site, as_of = str(environment.globals["site"]), str(environment.globals["as_of"])
    style = counted_words() + print_head(site, sheet.title, sheet.period, as_of)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return environment.get_template(sheet.template).render(
        **sheet.context,
        **({"machine_link": sheet.links.machine_link, "reel_link": sheet.links.reel_link} if sheet.links else {}),
        here=sheet.name,
        title=sheet.title,
        period=sheet.period,
        not_known=sheet.not_known,
        is_front=sheet.is_front,
        page_style=Markup(style),  # noqa: S704 - every sign that could end the style is written as a code
        page_style_hash=f"sha256-{digest}",
    )
