"""What a log card says of an event: its phrase, and what it puts into fields of its own or into the text."""

from __future__ import annotations

from dataclasses import dataclass

from sample_logs.foreign.spellings import ALARMS, BEGINNINGS, CHATTER, PHRASES, comma, host, machine_now
from sample_logs.room.logbook import Event

FIELDS = {
    "offset": "",
    "clock": " GÅR FÖRE",
    "alarm": "",
    "clear": "",
}  # events with fields, and what their phrase adds
INFORMATION, WARNING, ERROR = 6, 4, 3  # severities of RFC 5424, table 2


@dataclass(frozen=True)
class Said:
    """The text of a line, the fields of its structured element, and its severity."""

    text: str
    fields: tuple[tuple[str, str], ...] = ()
    severity: int = INFORMATION

    @property
    def is_chatter(self) -> bool:
        """Whether the line says nothing of interest."""
        return self.text.startswith(CHATTER)

    def in_words(self) -> str:
        """The text of a card that knows no fields: what they hold follows the phrase."""
        return " ".join((self.text, *(text for _, text in self.fields)))


def say(row: Event) -> Said:
    """The phrase of an event. Alarms and offsets have fields, hours and parts are said in the text."""
    if row.event in PHRASES:
        return Said(PHRASES[row.event], severity=ERROR if row.event.endswith("_lost") else INFORMATION)
    phrase = BEGINNINGS[row.event]
    if row.event in FIELDS:
        return Said(phrase + FIELDS[row.event], _fields(row), WARNING if row.event == "alarm" else INFORMATION)
    rest = {"hours": f"{comma(row.value)} h", "alive": f"#{row.at // 60_000 % 1440:04d}"}.get(row.event, row.detail)
    return Said(f"{phrase} {rest}")


def _fields(row: Event) -> tuple[tuple[str, str], ...]:
    fields = {"varde": comma(row.value)}
    if row.detail:
        about = ("mot", host(machine_now(row.detail, row.at))) if row.event == "offset" else ("vad", ALARMS[row.detail])
        fields |= dict((about,))
    return tuple((name, text) for name, text in fields.items() if text)
