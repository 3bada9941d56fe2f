"""What a page opens with, as text for a mail: its block of site, period and date, its title and its first sentences.

It is read off the page itself, so that the mail says what the page says, in the page's language.
"""

from __future__ import annotations

import re
from html.parser import HTMLParser

ENDS = ("h2", "table", "figure", "details")  # what comes after the opening of a page
WANTED = {"header": ("dt", "dd", "p"), "main": ("h1", "h3", "p", "li")}
UNSEEN = ("nav", "svg", "script", "style", "template")
ASIDE = ("small", "refs")  # classes of what leads elsewhere on the page: a mail has no links
VOID = ("br", "hr", "img", "input", "link", "meta", "wbr")


def page_opening(html: str) -> str:
    """The opening of a page: paragraphs with an empty line between them, no line broken inside a paragraph."""
    reader = _Opening()
    reader.feed(html)
    reader.close()
    names, values = reader.said["dt"], reader.said["dd"]
    block = "\n".join(f"{name}: {value}" for name, value in zip(names, values, strict=False))
    return "\n\n".join(part for part in (*reader.said["h1"], block, *reader.said["p"]) if part)


class _Opening(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.said: dict[str, list[str]] = {"h1": [], "dt": [], "dd": [], "p": []}
        self._is_ended = False
        self._open: list[tuple[str, bool]] = []  # the elements we are in, and whether each is left out
        self._tag, self._text = "", list[str]()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in VOID:
            return
        classes = (dict(attrs).get("class") or "").split()
        self._open.append((tag, tag in UNSEEN or any(name in ASIDE for name in classes)))
        if tag in ENDS and self.said["h1"] and not self._is_left_out():
            self._is_ended = True
        if not self._tag and self._is_wanted(tag):
            self._tag, self._text = tag, []

    def handle_endtag(self, tag: str) -> None:
        if not any(tag == opened for opened, _ in self._open):
            return
        if tag == self._tag and not self._is_left_out():
            self._keep(re.sub(r"\s+([,.;:])", r"\1", " ".join("".join(self._text).split())))
        while self._open.pop()[0] != tag:  # an element that needs no end of its own ends with the one around it
            pass

    def handle_data(self, data: str) -> None:
        if self._tag and not self._is_left_out():
            self._text.append(data)

    def _is_left_out(self) -> bool:
        return any(is_left_out for _, is_left_out in self._open)

    def _is_wanted(self, tag: str) -> bool:
        if self._is_ended or self._is_left_out():
            return False
        return any(tag in wanted for place, wanted in WANTED.items() if (place, False) in self._open)

    def _keep(self, text: str) -> None:
        if text:
            kind = self._tag if self._tag in self.said else "p"
            self.said[kind].append(f"- {text}" if self._tag == "li" else text)
        self._tag = ""
