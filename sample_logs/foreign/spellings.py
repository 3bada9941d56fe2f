"""How the second room says things: its own words for machines, channels, acts, events, reasons, roles and causes.

Each table is ours = theirs; site.toml is written from the same tables, turned round, so that the two cannot part.
"""

from __future__ import annotations

from datetime import datetime

from sample_logs.foreign.house import MACHINES, NEW_NUMBER, broadcast_day
from sample_logs.room.instants import SECOND, as_local

CHANNELS = {"One": "Ett", "Two": "Två"}
ACTIONS = {"take": "Övergång", "start": "Fjärrstart"}
SOURCES = {"standby": "Svart", "other": "Annat hus"}
REASONS = {"fault": "Fel", "precaution": "Säkerhet", "planned": "Plan", "rehearsal": "Övning", "return": "Åter"}
ROLES = {
    "air": "Sändning",
    "protect": "Reserv",
    "record": "Inspelning",
    "record_protect": "Inspelningsreserv",
    "maintenance": "Underhåll",
}
CAUSES = {
    "heads": "huvuden",
    "electronics": "elektronik",
    "tape": "band",
    "sound": "ljud",
    "patch": "kopplingsfält",
    "servo": "servo",
    "vacuum": "vakuum",
    "mechanism": "mekanik",
    "cooling": "kylning",
    "precaution": "säkerhet",
    "mains": "elnät",
}
# Events whose line is the phrase alone.
PHRASES = {
    "roll": "BAND RULLAR",
    "stop": "BAND STÅR",
    "lock": "SERVO I LÅS",
    "unlock": "SERVO UR LÅS",
    "picture_lost": "BILD BORTA",
    "picture_back": "BILD ÅTER",
    "sound_lost": "LJUD BORTA",
    "sound_back": "LJUD ÅTER",
    "clean": "RENGJORD",
    "lineup": "INJUSTERAD",
    "record_on": "INSPELNING PÅ",
    "record_off": "INSPELNING AV",
}
# Events whose line goes on after these words.
BEGINNINGS = {
    "offset": "FÖRSKJUTNING",
    "alarm": "LARM",
    "clear": "LARM SLUT",
    "head_fitted": "HUVUD BYTT",
    "part_fitted": "DEL BYTT",
    "hours": "TIMMÄTARE",
    "clock": "KLOCKA",
    "alive": "KORTET LEVER",
}
ALARMS = {
    "rf level": "hf-nivå",
    "sound level": "ljudnivå",
    "servo": "servot",
    "transport": "bandlöp",
    "guide pressure": "styrtryck",
}
CHATTER = ("TEMPERATUR", "BANDRÄKNARE")  # beginnings of lines that are of no interest


def machine_now(machine: str, at: int) -> str:
    """The number that logs and tickets give a machine at an instant: one got another on the way."""
    old, new, day = NEW_NUMBER
    return new if machine == old and broadcast_day(at) >= day else machine


def bay(machine: str) -> str:
    """A machine as people write it: Bandmaskin 7; other sources by their own words."""
    return SOURCES.get(machine, f"Bandmaskin {machine[2:]}" if machine else "")


def host(machine: str) -> str:
    """A machine as its log card is called: bm7."""
    return f"bm{machine[2:]}"


def bays() -> dict[str, str]:
    """Every machine's number, the new one too, by what people write."""
    return {bay(machine): machine for machine in (*MACHINES, NEW_NUMBER[1])}


def hosts() -> dict[str, str]:
    """Every machine's number, the new one too, by its log card."""
    return {host(machine): machine for machine in (*MACHINES, NEW_NUMBER[1])}


def comma(number: str) -> str:
    """A number with a decimal comma."""
    return number.replace(".", ",")


def day_first(at: int) -> str:
    """The local date, day first."""
    return as_local(at).strftime("%d.%m.%Y")


def day_and_minute(at: int) -> str:
    """The local date, day first, and the time to the minute."""
    return as_local(at).strftime("%d.%m.%Y %H:%M")


def on_air_day(at: int) -> str:
    """The broadcast day, day first: what happens before six in the morning belongs to the day before."""
    return broadcast_day(at).strftime("%d.%m.%Y")


def clock_time(at: int) -> str:
    """The wall clock's time with three decimals after a comma."""
    return as_local(at).strftime("%H:%M:%S,") + f"{at % SECOND:03d}"


def wall(at: int) -> datetime:
    """The wall clock's date and time, as a workbook's cell holds it."""
    return as_local(at).replace(tzinfo=None)
