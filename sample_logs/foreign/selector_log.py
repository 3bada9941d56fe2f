"""Writes the selector log as the desk prints it: Windows-1252, semicolons, broadcast days day first, decimal commas."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from sample_logs.foreign.spellings import ACTIONS, CHANNELS, REASONS, bay, clock_time, on_air_day
from sample_logs.foreign.strays import Strays
from sample_logs.room.logbook import Order

FILE = "vaxelpult_2031.csv"
HEADER = (
    "Löpnr",
    "Sändningsdygn",
    "Klockslag",
    "Händelse",
    "Kanal",
    "Från",
    "Till",
    "Anledning",
    "Gjort av",
    "Nivå dB",
)
TITLES = ("Växelpulten i Ekervattna;påhittad", "Utskrift av alla kopplingar, dygnet räknas från sex på morgonen")
NOTE = "Slut på utskriften. Nivåer är medelvärden över fem sekunder."
LOGIN = "Inloggning"
LOGIN_EVERY = 60


def write_selector_log(orders: list[Order], strays: Strays) -> bytes:
    """The log with its two title lines, a line whenever somebody logs in, the line of totals and the note."""
    lines = [*TITLES, ";".join(HEADER), *_lines(orders, strays)]
    lines += [f"Summa;;;{len(orders)} kopplingar;;;;;;", NOTE]
    strays.note(FILE, f"`Summa;;;{len(orders)} kopplingar;;;;;;`", "line of totals: no time")
    strays.note(FILE, f"`{NOTE}`", "note under the table: cells missing")
    return "".join(f"{line}\r\n" for line in lines).encode("cp1252")


def _lines(orders: list[Order], strays: Strays) -> Iterator[str]:
    random = Random("levels")
    ordered = sorted(orders, key=lambda row: (row.at, row.channel, row.action))
    for number, row in enumerate(ordered, start=1):
        when = (str(number), on_air_day(row.at), clock_time(row.at))
        if number % LOGIN_EVERY == 0:
            strays.note(FILE, f"`{LOGIN}`", "of no interest")
            yield ";".join((*when, LOGIN, CHANNELS[row.channel], "", "", "", "Pulten", ""))
        level = f"{-random.randint(5, 60) / 10:.1f}".replace(".", ",") if row.action == "take" else ""
        what = (ACTIONS[row.action], CHANNELS[row.channel], bay(row.source), bay(row.to))
        yield ";".join((*when, *what, REASONS.get(row.reason, ""), "Pulten", level))
