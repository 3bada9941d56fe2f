"""Writes the fault tickets as an Excel workbook: a title, the header in row 3, real dates, a second sheet of notes.

The same tickets give the same bytes: the library's own date of saving is written over, and the archive has one date.
"""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime
from random import Random

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from sample_logs.foreign.house import as_typed
from sample_logs.foreign.spellings import CAUSES, bay, machine_now, wall
from sample_logs.foreign.strays import Strays
from sample_logs.room.logbook import Ticket

FILE = "felanmalningar.xlsx"
SHEET = "Anmälningar"
HEADER_ROW = 3
HEADER = (
    *("Nr", "Maskin", "Anmäld", "Åter i drift", "Avslutad", "Vad hände", "Orsak", "Åtgärd", "Ny del"),
    *("Arbetstid h", "Kostnad kr", "Band", "Skrivet av"),
)
DATES = ("C", "D", "E")
NOTES = ("Anteckningar", ("Påhittat rum, påhittade fel.", "Bandmaskin 8 heter Bandmaskin 9 från den 20 oktober."))
SAVED = datetime(2031, 11, 4, 7, 0)  # noqa: DTZ001 - the library wants it without a zone


def write_fault_workbook(tickets: list[Ticket], strays: Strays) -> bytes:
    """The workbook's bytes."""
    book = Workbook()
    book.properties.creator = "Ekervattna (påhittat)"
    book.properties.created = SAVED
    sheet = book.worksheets[0]
    sheet.title = SHEET
    _fill(sheet, tickets, strays)
    notes = book.create_sheet(NOTES[0])
    for line in NOTES[1]:
        notes.append([line])
    saved = io.BytesIO()
    book.save(saved)
    return _settled(saved.getvalue())


def _fill(sheet: Worksheet, tickets: list[Ticket], strays: Strays) -> None:
    random = Random("as typed")
    sheet.append(["Felanmälningar, hösten 2031"])
    sheet.append([])
    sheet.append(list(HEADER))
    for row in tickets:
        sheet.append(_cells(row, random))
    sheet.append(
        ["", "Kaffeautomaten", wall(tickets[3].opened), "", "", "kokar inte", "", "", "", "", "", "", "natten"]
    )
    hours, costs = (sum(float(getattr(row, name) or 0) for row in tickets) for name in ("labour_hours", "parts_cost"))
    sheet.append(["", "", "", "", "", "Summa", "", "", "", hours, round(costs, 2)])
    for column in DATES:
        for (cell,) in sheet[f"{column}{HEADER_ROW + 1}:{column}{sheet.max_row}"]:
            cell.number_format = "dd.mm.yyyy hh:mm"
    strays.note(FILE, "`Kaffeautomaten`", "of no interest: no machine of this room")
    strays.note(FILE, "`Summa`", "row of totals: no ticket number")


def _cells(row: Ticket, random: Random) -> list[object]:
    times = [None if at is None else wall(at) for at in (row.opened, row.restored, row.closed)]
    numbers = [float(text) if text else None for text in (row.labour_hours, row.parts_cost)]
    words = [row.symptom, CAUSES.get(row.cause), row.action or None, row.part or None]
    reel = as_typed(row.reel, random) if row.reel else None
    return [int(row.ticket), bay(machine_now(row.machine, row.opened)), *times, *words, *numbers, reel, row.written_by]


def _settled(content: bytes) -> bytes:
    """The same workbook with the library's date of saving written over, stored unpacked under one date."""
    settled = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(settled, "w", zipfile.ZIP_STORED) as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + f"{SAVED:%Y-%m-%dT%H:%M:%SZ}".encode(), part
                )
            entry = zipfile.ZipInfo(name, SAVED.timetuple()[:6])
            entry.create_system = 3
            new.writestr(entry, part)
    return settled.getvalue()
