r"""Writes a regular expression of the database's engine (RE2) for Java's, so that both find the same text.

What the two read differently is spelt out: `\s` does not hold the vertical tab, `\b` goes by ASCII letters, `$` is
the end of the text and not a place before its last line feed. What cannot be told apart so simply is refused.
"""

from __future__ import annotations

WORD = "[0-9A-Za-z_]"
SPELT = {
    "s": r"[\t\n\f\r ]",
    "S": r"[^\t\n\f\r ]",
    "b": f"(?:(?<={WORD})(?!{WORD})|(?<!{WORD})(?={WORD}))",
}
ALIKE = frozenset("dDwWtnfr")
QUANTIFIERS = frozenset("*+?}")


def java_pattern(pattern: str) -> str:
    """``pattern`` for Java, finding what RE2 finds.

    Raises:
        ValueError: it holds what the two engines read differently and what is not spelt out here.
    """
    written: list[str] = []
    at, in_class = 0, False
    while at < len(pattern):
        piece = _piece(pattern, at)
        at += len(piece)
        if in_class:
            in_class = piece != "]"
            written.append(_in_class(piece))
        elif piece == "[":
            in_class = True
            negated = pattern.startswith("^", at)
            written.append("[^" if negated else "[")
            at += negated
            if pattern.startswith("]", at):
                raise ValueError('a class that begins with "]"')
        else:
            written.append(_outside(piece, pattern, at))
    return "".join(written)


def _piece(pattern: str, at: int) -> str:
    """The next character, or the next escape whole."""
    if pattern[at] != "\\":
        return pattern[at]
    if pattern[at + 1 : at + 2] in ("p", "P") and pattern[at + 2 : at + 3] == "{":
        return pattern[at : pattern.index("}", at) + 1]
    return pattern[at : at + 2]


def _in_class(piece: str) -> str:
    if piece in ("[", "&") or piece[1:] in SPELT:
        raise ValueError(f'"{piece}" in a class of characters')
    return _escape(piece) if piece.startswith("\\") else piece


def _outside(piece: str, pattern: str, after: int) -> str:
    if piece == ".":
        raise ValueError('"." alone, which stands for other characters in each engine; name them in a class')
    if piece == "(" and pattern.startswith("?", after) and not pattern.startswith("?:", after):
        raise ValueError('a group that begins with "(?"')
    if piece in QUANTIFIERS and pattern.startswith("+", after):
        raise ValueError(f'"{piece}+", which gives nothing back in Java')
    if piece == "$":
        return r"\z"
    return _escape(piece) if piece.startswith("\\") else piece


def _escape(piece: str) -> str:
    letter = piece[1:2]
    if letter in SPELT:
        return SPELT[letter]
    if letter in ALIKE or letter in ("p", "P") or (letter and not letter.isalnum()):
        return piece
    raise ValueError(f'the escape "{piece}"')
