"""Which encoding a text is in, as far as its bytes tell, and what a person has to look at where they do not."""

from __future__ import annotations

import re

from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.toml_text import shown, text_value
from pipeline.ingest.text.encodings import FALLBACK, MIXED, recognise_encoding

OLDER = "cp850"  # what MS-DOS wrote in western Europe
WORD = re.compile(rb"[A-Za-z]*[\x80-\xff]+[A-Za-z]+|[A-Za-z]+[\x80-\xff]+")
MOST = 0.5
LONGEST_LETTER = 4  # bytes of UTF-8


def propose_encoding(head: bytes) -> Findings:
    """The key ``encoding`` for a file that begins with the bytes ``head``; left out where they are all ASCII."""
    name = recognise_encoding(head)
    if name != MIXED:
        return Findings((Setting("encoding", text_value(name), "by its byte order mark or its NUL bytes"),))
    if head.isascii():
        return Findings(remarks=("The encoding is left out: all bytes looked at are ASCII.",))
    if _is_utf8(head):
        return Findings((Setting("encoding", text_value("utf-8"), "letters beyond ASCII are written as UTF-8"),))
    words = WORD.findall(head) or [b"\xff"]
    if any(_is_utf8(line) and not line.isascii() for line in head.splitlines()):
        why = f"some lines are UTF-8, others not: {_read_as(words, FALLBACK)}"
        return Findings((Setting("encoding", text_value(MIXED), why),))
    is_likely = sum(word.decode(FALLBACK, "replace").isalpha() for word in words) > MOST * len(words)
    if is_likely:
        why = f"not UTF-8; {_read_as(words, FALLBACK)}, look whether that is spelled right"
        return Findings((Setting("encoding", text_value(FALLBACK), why),))
    setting = Setting("encoding", text_value(OLDER), _read_as(words, OLDER), is_decided=False)
    told = (
        f"encoding: neither UTF-8 nor, by its letters, Windows-1252. Look at {_example(words, OLDER)}, read as {OLDER}."
    )
    return Findings((setting,), undecided=(told,))


def _is_utf8(data: bytes) -> bool:
    """Whether ``data`` is UTF-8, but for a letter cut off at its end."""
    try:
        data.decode()
    except UnicodeDecodeError as error:
        return (
            error.end == len(data)
            and error.start >= len(data) - LONGEST_LETTER
            and error.reason.startswith("unexpected end")
        )
    return True


def _read_as(words: list[bytes], encoding: str) -> str:
    return f"it reads {_example(words, encoding)}"


def _example(words: list[bytes], encoding: str) -> str:
    return shown(max(words[:100], key=len).decode(encoding, "replace"), 30)
