"""Writes TOML 1.0 whose values and comments come from files of unknown make: no character of theirs can end a line."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}
LONGEST_SHOWN = 60  # characters of a value in a comment
LONGEST_COMMENT = 200
LONGEST_SENTENCE = 2_000
WIDTH = 118
REASON_AT = 44  # column at which reasons begin, where the line before is short enough
SURROGATES = range(0xD800, 0xE000)
REPLACEMENT = "\ufffd"


def text_value(text: str) -> str:
    """``text`` as a basic string. Half a surrogate pair, which no TOML can hold, becomes U+FFFD."""
    return f'"{"".join(map(_escaped, text))}"'


def pattern_value(pattern: str) -> str:
    """A pattern as a literal string where it can be one, so that its backslashes are not doubled."""
    return f"'{pattern}'" if pattern.isprintable() and "'" not in pattern else text_value(pattern)


def list_value(values: Iterable[str]) -> str:
    """Values already written, as an array on one line."""
    return f"[{', '.join(values)}]"


def shown(value: str, longest: int = LONGEST_SHOWN) -> str:
    """``value`` in quotes for a comment or a sentence: on one line, cut short, characters that do not show escaped."""
    short = "".join(each if each.isprintable() else _escaped(each) for each in value[:longest])
    return f'"{short}…"' if len(value) > longest else f'"{short}"'


def comment_lines(sentence: str, first: str = "# ", following: str = "#   ") -> list[str]:
    """``sentence`` as comments of at most 118 characters a line."""
    plain = "".join(each if each.isprintable() else " " for each in sentence[:LONGEST_SENTENCE])
    return textwrap.wrap(plain, WIDTH, initial_indent=first, subsequent_indent=following, break_on_hyphens=False) or [
        first.rstrip()
    ]


def with_reason(line: str, reason: str) -> str:
    """``line`` with ``reason`` as a comment behind it."""
    return f"{line.ljust(REASON_AT)}  # {_one_line(reason)}" if reason else line


def commented_out(line: str, reason: str) -> str:
    """``line``, which is written TOML, as a comment that a person may turn into a line again."""
    return with_reason(f"# {line}", reason)


def _one_line(sentence: str) -> str:
    plain = "".join(each if each.isprintable() else " " for each in sentence[: LONGEST_COMMENT + 1])
    return f"{plain[:LONGEST_COMMENT]}…" if len(sentence) > LONGEST_COMMENT else plain


def _escaped(character: str) -> str:
    if character in ESCAPES:
        return ESCAPES[character]
    number = ord(character)
    if number in SURROGATES:
        return REPLACEMENT
    if character.isprintable():
        return character
    return f"\\u{number:04X}" if number <= 0xFFFF else f"\\U{number:08X}"
