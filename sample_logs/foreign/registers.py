"""Writes the machine register, tab-separated UTF-16 with a byte order mark, and the reel labels, numbers as typed."""

from __future__ import annotations

import codecs
from datetime import date
from random import Random

from sample_logs.foreign.house import REGISTER, as_typed
from sample_logs.foreign.spellings import bay, day_and_minute
from sample_logs.foreign.strays import Strays
from sample_logs.room.catalogue import Label

REGISTER_FILE = "register/maskiner.txt"
REGISTER_HEADER = ("Maskin", "Typ", "Par", "Grupp", "I drift sedan", "Ur drift", "Nypris", "Plats")
LABELS_FILE = "register/band.csv"
LABELS_HEADER = ("Band", "Titel", "Avsnitt", "Inspelat på", "Inspelat av", "Inspelat den")
LABELS_NOTE = "# etiketter avskrivna för hand"


def write_register(strays: Strays) -> bytes:
    """The machines with their new price in kronor, and a line of totals that has no machine."""
    rows = [REGISTER_HEADER]
    for place, row in enumerate(REGISTER, start=1):
        since = date.fromisoformat(row.installed).strftime("%d.%m.%Y")
        price = f"{row.replacement_cost:,}".replace(",", " ")
        rows.append((bay(row.machine), row.kind, row.pair, row.group, since, "", f"{price},00", str(place)))
    total = f"{sum(row.replacement_cost for row in REGISTER):,}".replace(",", " ")
    rows.append(("", "", "", "", "", "", f"{total},00", ""))
    strays.note(REGISTER_FILE, f"the last line, {total},00", "line of totals: no machine")
    return codecs.BOM_UTF16_LE + "".join("\t".join(row) + "\r\n" for row in rows).encode("utf-16-le")


def write_labels(labels: list[Label], strays: Strays) -> bytes:
    """The labels, reel numbers as people type them."""
    random = Random("labels")
    lines = [";".join(LABELS_HEADER)]
    for row in labels:
        cells = (as_typed(row.reel, random), row.programme, row.show, bay(row.recorded_on), row.recorded_by)
        lines.append(";".join((*cells, day_and_minute(row.recorded_at))))
    lines.append(LABELS_NOTE)
    strays.note(LABELS_FILE, f"`{LABELS_NOTE}`", "note under the table: cells missing")
    return "".join(f"{line}\n" for line in lines).encode("utf-8")
