"""Selector logs, tickets, bookings and registers as text, workbook and calendar; all invented."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import openpyxl

from tests.ingest.propose.export import NONE, START, Export, at, cycle, lines


def _spanish_switches() -> list[str]:
    rows = [
        f"{at(k * 600, '%d/%m/%Y %H:%M')},{action},Uno,M-{k % 3 + 1},M-{(k + 1) % 3 + 1},{motive},turno {k % 2}"
        for k, (action, motive) in enumerate(
            zip(cycle("corte", "arranque"), cycle("avería", "previsto", "relevo"), strict=True)
        )
    ]
    return [
        "Fecha y hora,Acción,Canal,De máquina,A máquina,Motivo,Operador",
        *rows,
        "31/03/2031 10:00,corte,Uno,M-1,M-2,avería,t",
    ]


def _titled_switches() -> list[str]:
    rows = [
        f"'{at(k * 300, '%Y-%m-%d %H:%M:%S')}'|'take'|'One'|'VT{k % 3 + 1}'|'VT{(k + 1) % 3 + 1}'|'{why}'"
        for k, why in enumerate(cycle("fault", "planned", "return"))
    ]
    return [
        "'Selector report of the Windmill room'",
        "",
        "'When'|'Command'|'Output'|'Old source'|'New source'|'Why'",
        *rows,
    ]


def _canonical_switches() -> list[str]:
    rows = [
        f"{at(k * 300, '%Y-%m-%dT%H:%M:%SZ')},take,One,VT{k % 2 + 1},VT{(k + 1) % 2 + 1},planned,ab" for k in range(20)
    ]
    return ["at,action,channel,from_machine,to_machine,reason,by", *rows]


def _swedish_tickets(path: Path) -> None:
    book = openpyxl.Workbook()
    notes = book.active
    notes.title = "Anteckningar"
    notes.append(["Rummet vid kvarnen: påhittat"])
    sheet = book.create_sheet("Felanmälningar")
    sheet.append(["Felanmälningar 2031"])
    sheet.append([])
    sheet.append(
        [
            "Ärendenummer",
            "Maskin",
            "Anmäld",
            "I drift igen",
            "Avslutad",
            "Felbeskrivning",
            "Orsak",
            "Åtgärd",
            "Reservdel",
            "Arbetstid",
            "Tekniker",
        ]
    )
    for k in range(25):
        opened = START + timedelta(days=k)
        ended = opened + timedelta(hours=5)
        sheet.append(
            [f"Å{k:03d}", f"BM{k % 6 + 1}", opened, ended, ended, "ingen bild", "huvud", "rengjort", "", 1.5, "lag 1"]
        )
    book.save(path)


def _serial_tickets() -> list[str]:
    rows = [f"F{k:03d};VT{k % 4 + 1};{46100 + k}.25;{46100 + k}.75;no picture;crew" for k in range(30)]
    return ["Ticket;Machine;Opened;Repaired;Fault;Reported by", *rows]


def _french_bookings() -> list[str]:
    rows = [
        f"R{k:04d}\tD{k // 2:03d}\t{at(k * 86400, '%Y-%m-%d')}\t20:00\t21:30\tDeux\tLes Moulins\tK-{k:03d}"
        f"\tBanc {k % 4 + 1}\t{role}"
        for k, role in enumerate(cycle("antenne", "secours", count=24))
    ]
    head = "Réservation\tNuméro de diffusion\tJour\tDébut\tFin\tCanal\tTitre\tBobine\tMachine\tUsage"
    return [head, *rows]


def _calendar() -> list[str]:
    events = [
        line
        for k in range(12)
        for line in (
            *(
                "BEGIN:VEVENT",
                f"UID:b{k}@room.example",
                "DTSTAMP:20310301T080000Z",
                f"SUMMARY:Harbour News {k}",
                f"CATEGORIES:{('Sendung', 'Reserve')[k % 2]}",
            ),
            *(
                f"DTSTART:203103{k + 10}T200000Z",
                f"DTEND:203103{k + 10}T213000Z",
                f"LOCATION:VT{k % 4 + 1}",
                "END:VEVENT",
            ),
        )
    ]
    return ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//invented//rota//EN", *events, "END:VCALENDAR"]


def _register() -> list[str]:
    rows = [f"MV{k}\tquer, breit\tP{k // 2}\tgrupp {k % 2}\t20{20 + k}-01-15\t\t{200000 + k}" for k in range(1, 9)]
    return ["Maskin\tModell\tPar\tGrupp\tInstallerad\tAvvecklad\tNypris", *rows]


def _labels() -> list[str]:
    rows = [
        f"K{k:04d},Harbour News,part {k},VT{k % 4 + 1},crew {k % 2},2030-0{k % 8 + 1}-11 14:00" for k in range(1, 30)
    ]
    return ["Tape no,Title,Part,Recording machine,Recording crew,Date recorded", *rows]


PAPER_EXPORTS = (
    Export(
        "felanmälningar.xlsx",
        _swedish_tickets,
        "tickets",
        {
            "Ärendenummer": "ticket",
            "Maskin": "machine",
            "Anmäld": "opened",
            "I drift igen": "restored",
            "Avslutad": "closed",
            "Felbeskrivning": "symptom",
            "Orsak": "cause",
            "Åtgärd": "action",
            "Reservdel": "part",
            "Arbetstid": "labour_hours",
            "Tekniker": "written_by",
        },
        {"format": "excel", "sheet": "Felanmälningar", "header_row": 3},
    ),
    Export(
        "maskinlista.txt",
        lines(_register(), "utf-16", "\r\n"),
        "machines",
        {
            "Maskin": "machine",
            "Modell": "kind",
            "Par": "pair",
            "Grupp": "group",
            "Installerad": "installed",
            "Avvecklad": "retired",
            "Nypris": "replacement_cost",
        },
        {"format": "csv", "delimiter": "\t", "encoding": "utf-16"},
    ),
    Export("switches.csv", lines(_canonical_switches()), "", {}),
    Export(
        "reservas.csv",
        lines(_spanish_switches()),
        "switches",
        {
            "Fecha y hora": "at",
            "Acción": "action",
            "Canal": "channel",
            "De máquina": "from_machine",
            "A máquina": "to_machine",
            "Motivo": "reason",
            "Operador": "by",
        },
        {"format": "csv", "date_order": "dmy"},
        {"action": {"corte": "take", "arranque": "start"}, "reason": {"avería": "fault", "previsto": "planned"}},
        asked=("relevo",),
    ),
    Export(
        "planning.tsv",
        lines(_french_bookings()),
        "bookings",
        {
            "Réservation": "booking",
            "Numéro de diffusion": "transmission",
            "Jour": ("starts", "ends"),
            "Début": "starts",
            "Fin": "ends",
            "Canal": "channel",
            "Titre": "programme",
            "Bobine": "reel",
            "Machine": "machine",
            "Usage": "role",
        },
        {"format": "csv", "delimiter": "\t"},
        {"role": {"antenne": "air", "secours": "protect"}},
    ),
    Export(
        "selector.txt",
        lines(_titled_switches()),
        "switches",
        {
            "When": "at",
            "Command": "action",
            "Output": "channel",
            "Old source": "from_machine",
            "New source": "to_machine",
            "Why": "reason",
        },
        {"format": "csv", "delimiter": "|", "quote": "'", "header_row": 3},
    ),
    Export(
        "faults.csv",
        lines(_serial_tickets()),
        "tickets",
        {
            "Ticket": "ticket",
            "Machine": "machine",
            "Opened": "opened",
            "Repaired": "restored",
            "Fault": "symptom",
            "Reported by": "written_by",
        },
        {"format": "csv"},
        undecided=("numeric_times",),
    ),
    Export(
        "tapes.csv",
        lines(_labels()),
        "reels",
        {
            "Tape no": "reel",
            "Title": "programme",
            "Part": "show",
            "Recording machine": "recorded_on",
            "Recording crew": "recorded_by",
            "Date recorded": "recorded_at",
        },
    ),
    Export(
        "rota.ics",
        lines(_calendar(), end="\r\n"),
        "bookings",
        {
            "booking": "booking",
            "summary": "programme",
            "location": "machine",
            "starts": "starts",
            "ends": "ends",
            "categories": "role",
            "uid": NONE,
        },
        {"format": "calendar"},
        {"role": {"Sendung": "air", "Reserve": "protect"}},
    ),
)
