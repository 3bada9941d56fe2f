"""Keeps the names of persons out of the texts of rows: what an engineer's log shows is the machine, not the man.

Persons are what stands in the columns made for them (who took, wrote, recorded, ruled). A room may want them shown;
then site.toml says so.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterable, Mapping

MASK = "•••"
# Words for a post and not for a person; common practice in rooms, no source. In the column for persons they are masked
# too, but in other rows "control" is a track and "night" a time.
POSTS = frozenset(
    (
        "control", "night", "day", "shift", "desk", "duty", "engineer", "engineers", "eng", "op", "ops", "operator",
        "crew", "studio", "staff", "room", "vt", "vtr", "mcr",
    )
)  # fmt: skip
WITHHELD = "••• (this row names a person in a way that cannot be found in its text, so that none of it is shown)"
PERSONS = {
    "raw_switches": "taken_by", "raw_tickets": "written_by", "raw_reels": "recorded_by", "raw_rulings": "ruled_by",
}  # fmt: skip
INITIALS = 3  # so many capitals at most are initials: lower case letters of the same kind are words
LEAST_PART = 3  # letters of a part of a name that is masked by itself; shorter ones are words of the language


class Mask:
    """Masks persons in texts; what is known of them all is fixed when it is made."""

    def __init__(self, persons: Iterable[str], spared: Iterable[str] = ()) -> None:
        """``persons``: everyone named in any row; ``spared``: names of machines, channels and the like.

        A person called like a machine or a post is masked only in the rows that name the person: elsewhere it is the
        machine, or a word of the trade.
        """
        kept = {word.casefold() for word in spared}
        names = {part for person in persons for part in _parts(person)}
        self._all = _pattern(name for name in names if name.casefold() not in kept and _is_telling(name))
        self._own: dict[str, re.Pattern[str]] = {}

    def text(self, text: str, own: str | None = None) -> str:
        """``text`` with every person in it as "•••"; ``own`` is the person whom the row itself names in its column.

        Where ``own`` does not stand in the text, as in a file whose words are mapped to others, nothing of it is shown:
        there is no telling what else is the person's name.
        """
        if own:
            masked, count = self._own_pattern(own).subn(MASK, text)
            if not count:
                return WITHHELD
            text = masked
        return self._all.sub(MASK, text)

    def _own_pattern(self, person: str) -> re.Pattern[str]:
        if person not in self._own:
            self._own[person] = _pattern(_parts(person))
        return self._own[person]


def person_column(columns: Mapping[str, object] | Iterable[str]) -> str | None:
    """The column of a row that holds a person, or None."""
    return next((column for column in PERSONS.values() if column in columns), None)


def _parts(person: str) -> list[str]:
    """The name as it may be written in a row: whole, escaped as files escape it, and its longer parts."""
    whole = " ".join(person.split())
    if not whole:
        return []
    written = [person, whole, json.dumps(whole)[1:-1], html.escape(whole), whole.replace('"', '""')]
    parts = [part for part in re.split(r"[\s,.;/&]+", whole) if sum(map(str.isalpha, part)) >= LEAST_PART]
    return [*dict.fromkeys([*written, *parts, *(json.dumps(part)[1:-1] for part in parts)])]


def _is_telling(name: str) -> bool:
    """Whether a name can be looked for everywhere: a single letter, a number or a post stands for too much else."""
    words = [word for word in re.split(r"[^\w]+", name.casefold()) if len(word) > 1 and any(map(str.isalpha, word))]
    return not POSTS.issuperset(words)


def _pattern(names: Iterable[str]) -> re.Pattern[str]:
    """Any of ``names`` as a whole word, the longest first; initials as they are, longer names in any case."""
    ordered = sorted(set(names), key=lambda name: (-len(name), name))
    words = [_in_any_case(name) for name in ordered]
    return re.compile(rf"(?<![^\W_])(?:{'|'.join(words)})(?![^\W_])" if words else r"(?!)")


def _in_any_case(name: str) -> str:
    # The white space in a name may have been one of several kinds in the file.
    escaped = r"\s+".join(re.escape(part) for part in name.split()) or re.escape(name)
    return escaped if len(name) <= INITIALS and name.upper() == name else f"(?i:{escaped})"
