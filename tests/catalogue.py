"""What the pages say, found in the code, against the catalogues of other languages.

python -m tests.catalogue [PATH]: lists the texts of files beginning with PATH that have no German, and what a
catalogue holds that no page says any more.
"""

from __future__ import annotations

import ast
import string
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import jinja2
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po
from jinja2 import nodes

ROOT = Path(__file__).resolve().parents[1]
RENDER = ROOT / "pipeline" / "render"
CATALOGUES = RENDER / "languages"
SPOKEN_FIELDS = ("title", "lead", "name", "unit", "words", "example")  # of definitions.toml
CHECK_FIELDS = ("rule", "why")  # of the data checks
COUNTED = ("counted", "spoken")


@dataclass(frozen=True)
class Message:
    """One text of a page: in English, its plural or nothing, what tells it from its likes, and where it stands."""

    text: str
    plural: str
    about: str
    place: str

    @property
    def key(self) -> tuple[str, str]:
        return self.about, self.text

    @property
    def is_literal(self) -> bool:
        """False for a text that is put together at run time, so that no catalogue can hold it."""
        return bool(self.text)


def messages() -> list[Message]:
    """Every text of the pages, in order of file and line."""
    found: list[Message] = []
    for path in sorted((ROOT / "pipeline").rglob("*.py")):
        if path.name != "language.py":
            found += _of_python(path)
    for path in sorted((RENDER / "templates").glob("*.j2")):
        found += _of_template(path)
    for path in (*sorted(RENDER.glob("*.toml")), ROOT / "pipeline" / "check" / "suites.toml"):
        found += _of_toml(path)
    return found


def _of_python(path: Path) -> Iterator[Message]:
    source = path.read_text(encoding="utf-8")
    if path.is_relative_to(RENDER) or "pipeline.render.language" in source:
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                name = node.func.id
                given = [_literal(argument) for argument in node.args]
                about = next((_literal(word.value) or "" for word in node.keywords if word.arg == "about"), "")
                place = f"{path.relative_to(ROOT)}:{node.lineno}"
                if path.name == "words.py" and name in {"say_counted", *COUNTED} and None in given[1:2]:
                    continue  # there the words come from whoever calls
                yield from _message(name, given, about, place)


def _literal(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _of_template(path: Path) -> Iterator[Message]:
    tree = jinja2.Environment(autoescape=True).parse(path.read_text(encoding="utf-8"))
    for call in tree.find_all(nodes.Call):
        if isinstance(call.node, nodes.Name):
            given = [_constant(argument) for argument in call.args]
            about = next((_constant(word.value) or "" for word in call.kwargs if word.key == "about"), "")
            yield from _message(call.node.name, given, about, f"{path.relative_to(ROOT)}:{call.lineno}")


def _constant(node: nodes.Expr) -> str | None:
    return node.value if isinstance(node, nodes.Const) and isinstance(node.value, str) else None


def _message(name: str, given: list[str | None], about: str, place: str) -> Iterator[Message]:
    told = [text or "" for text in given] + ["", "", ""]
    if name in {"say", "say_html"}:
        yield Message(told[0], "", about, place)
    elif name == "say_counted":
        yield Message(told[0] and told[1] and told[0], told[1], about, place)
    elif name in COUNTED and len(given) > 1:
        many = told[2] if len(given) > 2 else f"{told[1]}s"
        yield Message(told[1] and many and f"{{n}} {told[1]}", f"{{n}} {many}", about, place)


def _of_toml(path: Path) -> Iterator[Message]:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    for section in data.get("sections", ()):
        for item in (section, *section["terms"]):
            place = f"{path.relative_to(ROOT)}:{item.get('id', item.get('title'))}"
            told = [(name, "term" if name == "name" else "") for name in SPOKEN_FIELDS if item.get(name)]
            yield from (Message(item[name], "", about, place) for name, about in told)
    for check in data.get("checks", ()):
        place = f"{path.relative_to(ROOT)}:{check['id']}"
        yield from (Message(check[name], "", "", place) for name in CHECK_FIELDS)
    yield from (Message(text, "", "", str(path.relative_to(ROOT))) for text in data.get("texts", ()))


def catalogues(tag: str) -> dict[Path, Catalog]:
    """The catalogues of a language by their files."""
    found = {}
    for path in sorted((CATALOGUES / tag).glob("*.po")):
        with path.open("rb") as file:
            found[path] = read_po(file, locale=tag, abort_invalid=True)
    return found


def entries(tag: str) -> list[tuple[Path, tuple[str, str], tuple[str, ...]]]:
    """File, (about, English) and the forms of every entry."""
    return [
        (
            path,
            (message.context or "", message.id if isinstance(message.id, str) else message.id[0]),
            (message.string,) if isinstance(message.string, str) else tuple(message.string),
        )
        for path, catalogue in catalogues(tag).items()
        for message in catalogue
        if message.id
    ]


def fields(text: str) -> set[str]:
    """The names to be filled in."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def main() -> int:
    """Print what is missing, stale, double or filled in otherwise."""
    begins = sys.argv[1] if len(sys.argv) > 1 else ""
    said, held = messages(), entries("de")
    known = {key: forms for _, key, forms in held if all(forms)}
    for message in said:
        if not message.is_literal and message.place.startswith(begins):
            print(f"not one literal: {message.place}")
    missing = {m.key: m for m in said if m.is_literal and m.key not in known and m.place.startswith(begins)}
    for message in missing.values():
        about = f" [{message.about}]" if message.about else ""
        plural = f" / {message.plural!r}" if message.plural else ""
        print(f"no German: {message.place}{about}: {message.text!r}{plural}")
    keys = [key for _, key, _ in held]
    for path, key, forms in held:
        if key not in {message.key for message in said}:
            print(f"stale: {path.name}: {key[1]!r}")
        if keys.count(key) > 1:
            print(f"double: {path.name}: {key[1]!r}")
        if any(fields(form) != fields(key[1]) for form in forms if form) and not path.name.startswith("definitions"):
            print(f"filled in otherwise: {path.name}: {key[1]!r}")
    print(f"{len(said)} texts said, {len(held)} held, {len(missing)} without German under {begins or 'all'}")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
