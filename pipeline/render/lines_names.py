"""Where the lists behind the figures stand: names of pages that are plain whatever a channel or machine is called."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup, escape

from pipeline.render.evidence_door import Evidence
from pipeline.render.sheet import slug
from pipeline.results import Scope

FRONT = "lines.html"
FILES = "lines-files.html"
GROUPS = ("months", "channels", "machines", "month_channels")
MOST_PAGES = 500  # beyond it a list is left to the command
Key = tuple[str, str, str]  # month, channel, machine


def key_of(scope: Scope) -> Key:
    """The scope as a key."""
    return scope.month, scope.channel, scope.machine


def key_of_group(group: Mapping[str, Any]) -> Key:
    """The key of an entry of figures.json."""
    return group.get("month") or "", group.get("channel") or "", group.get("machine") or ""


def figure_entry(figures: Mapping[str, Any], key: Key) -> Mapping[str, Any]:
    """The entry of figures.json that a key names: a total, month, channel, machine, or month and channel."""
    entries = (entry for group in GROUPS for entry in figures[group])
    found: Mapping[str, Any] = next((entry for entry in entries if key_of_group(entry) == key), figures["total"])
    return found


def page_names(keys: Iterable[Key]) -> dict[Key, str]:
    """A page name for each key: letters, digits, hyphens; names that read alike get an ordinal in order of ``keys``."""
    keys = list(keys)
    channels = _words(key[1] for key in keys)
    machines = _words(key[2] for key in keys)
    return {key: _page_name(key, channels, machines) for key in keys}


def _page_name(key: Key, channels: Mapping[str, str], machines: Mapping[str, str]) -> str:
    month, channel, machine = key
    parts = [
        f"{kind}-{word}"
        for kind, word in (("month", month), ("channel", channels[channel]), ("machine", machines[machine]))
        if word
    ]
    return f"lines-{'-'.join(parts)}.html" if parts else FRONT


def _words(names: Iterable[str]) -> dict[str, str]:
    words: dict[str, str] = {"": ""}
    taken: set[str] = set()
    for name in names:
        if name not in words:
            words[name] = next(word for word in _candidates(name) if word not in taken)
            taken.add(words[name])
    return words


def _candidates(name: str) -> Iterator[str]:
    word = slug(name)
    yield word
    ordinal = 2
    while True:
        yield f"{word}-{ordinal}"
        ordinal += 1


@dataclass(frozen=True)
class FigureLinks:
    """Which figures have a list and where: ``pages`` by key, ``figures`` by key (names as places on the page).

    ``files`` are the pages of the accounts of the files, by the file's number from 1.
    """

    pages: Mapping[Key, str]
    figures: Mapping[Key, frozenset[str]]
    files: Mapping[int, str] = field(default_factory=dict)

    def href(self, figure: str, key: Key) -> str | None:
        """Where the list of ``figure`` stands, or None."""
        return f"{self.pages[key]}#{figure}" if figure in self.figures.get(key, ()) else None

    def fig(self, text: object, figure: str, group: Mapping[str, Any] | None = None, **names: str) -> Markup:
        """``text`` as a link to the list of ``figure``; as plain text where there is no such list.

        ``group`` is an entry of figures.json (None: the total), ``names`` month, channel and machine themselves.
        """
        href = self.href(figure, key_of_group({**(group or {}), **names}))
        return escape(text) if href is None else Markup('<a class="fig" href="{}">{}</a>').format(href, text)

    def file_fig(self, text: object, number: int, part: str = "") -> Markup:
        """``text`` as a link to the account of the file at ``number`` (from 1) in figures.json, or one part of it."""
        if not self.pages:
            return escape(text)
        return Markup('<a class="fig" href="{}#{}">{}</a>').format(
            self.files.get(number, FILES), file_place(number, part), text
        )


def file_place(number: int, part: str = "") -> str:
    """Where the account of a file stands on its page."""
    return f"file-{number}-{part.replace('_', '-')}" if part else f"file-{number}"


NO_LINKS = FigureLinks({}, {})


def scopes_with_pages(evidence: Evidence, figures: Mapping[str, Any]) -> dict[Key, Scope]:
    """The scopes that have a page, by key: those of which anything at all is counted, up to a bound."""
    counted = {("", "", "")}
    counted |= {key_of_group(entry) for group in GROUPS for entry in figures[group] if _says_anything(entry)}
    scopes = {key_of(scope): scope for scope in evidence.scopes() if key_of(scope) in counted}
    return dict(list(scopes.items())[:MOST_PAGES])


def _says_anything(entry: Mapping[str, Any]) -> bool:
    return any(isinstance(value, int | float) and value for value in entry.values())
