"""What goes to the standard output: text at a width that mails keep, bold on terminals only, and JSON."""

from __future__ import annotations

import json
import os
import sys
import textwrap
from collections.abc import Iterable
from typing import Any

MAIL_COLUMNS = 72  # RFC 3676 counsels lines of at most 78; 72 leaves room to be quoted twice, common practice


def print_json(value: Any) -> None:
    """Print one JSON value."""
    print(json.dumps(value))


def for_mail(text: str) -> str:
    """``text`` with its lines broken at 72 columns, each further line under the first; words are never cut."""
    return "\n".join(_broken(line) for line in text.splitlines())


def strong(text: str) -> str:
    """``text`` in bold on a terminal; as it is elsewhere, and where NO_COLOR is set (no-color.org)."""
    return f"\x1b[1m{text}\x1b[0m" if is_coloured() else text


def is_coloured() -> bool:
    """Whether the standard output is a terminal that shows bold and nobody asked for plain text."""
    return is_terminal() and not os.environ.get("NO_COLOR") and os.environ.get("TERM", "") != "dumb"


def is_terminal() -> bool:
    """Whether a person looks at the standard output."""
    return sys.stdout.isatty()


def in_columns(rows: Iterable[tuple[str, str]]) -> str:
    """Names and values as two columns, the values set right."""
    pairs = list(rows)
    left = max((len(name) for name, _ in pairs), default=0)
    right = max((len(value) for _, value in pairs), default=0)
    return "\n".join(f"{name:<{left}}  {value:>{right}}" for name, value in pairs)


def _broken(line: str) -> str:
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.fill(
        line.strip(),
        MAIL_COLUMNS,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
