"""Exports named in languages and ways that the list of synonyms does not have.

Nothing need be proposed for them, but what is must be right.
"""

from __future__ import annotations

from tests.ingest.propose.export import NONE, Export, at, cycle, day, lines


def _italian_events() -> list[str]:
    rows = [
        f"{at(k * 61, '%d/%m/%Y %H:%M:%S')};VT{k % 4 + 1};{word};{'0,04' if word == 'sfasamento' else ''};{k % 9}"
        for k, word in enumerate(cycle("avvio", "agganciato", "sfasamento", "arresto"))
    ]
    return ["Ora;Macchina;Evento;Misura;Turno", *rows, "31/03/2031 10:00:00;VT1;avvio;;1"]


def _finnish_tickets() -> list[str]:
    rows = [f"V{k:03d},NK{k % 5 + 1},{day(k)} 20:00,{day(k)} 22:30,ei kuvaa,puhdistettu,2.5" for k in range(30)]
    return ["Vikanumero,Nauhuri,Ilmoitettu,Korjattu,Oire,Toimenpide,Tunnit", *rows]


def _odd_tickets() -> list[str]:
    rows = [f"{k},Bay {k % 5 + 1},{day(k)} 20:00,{day(k)} 22:30,no colour,swapped board,{k % 3}" for k in range(1, 31)]
    return ["Ref,Where,Went wrong,Put right,What we saw,What we did,Severity", *rows]


def _odd_switches() -> list[str]:
    rows = [
        f"{at(k * 300, '%Y-%m-%dT%H:%M:%SZ')}|cut|One|VT{k % 3 + 1}|VT{(k + 1) % 3 + 1}|VT{(k + 2) % 3 + 1}|night"
        for k in range(40)
    ]
    return ["Moment|Deed|Path|Left|Right|Spare|Watch", *rows]


def _odd_bookings() -> list[str]:
    rows = [
        f"{k};{k // 2};{at(k * 86400, '%d.%m.%Y')};20:00;21:30;01:30;One;Harbour News;VT{k % 4 + 1};{use}"
        for k, use in enumerate(cycle("on air", "backup", count=30))
    ]
    return ["Line;Slot;Day;On;Off;Length;Net;Name;Deck;Sort", *rows]


UNFORESEEN = (
    Export(
        "registro.csv",
        lines(_italian_events()),
        "events",
        {"Ora": "at", "Macchina": "machine", "Evento": "event", "Misura": "value", "Turno": NONE},
        asked_kind="events",
    ),
    Export(
        "viat.csv",
        lines(_finnish_tickets()),
        "tickets",
        {
            "Vikanumero": "ticket",
            "Nauhuri": "machine",
            "Ilmoitettu": "opened",
            "Korjattu": "restored",
            "Oire": "symptom",
            "Toimenpide": "action",
            "Tunnit": "labour_hours",
        },
        asked_kind="tickets",
    ),
    Export(
        "book of faults.csv",
        lines(_odd_tickets()),
        "tickets",
        {
            "Ref": "ticket",
            "Where": "machine",
            "Went wrong": "opened",
            "Put right": "restored",
            "What we saw": "symptom",
            "What we did": "action",
            "Severity": NONE,
        },
        asked_kind="tickets",
    ),
    Export(
        "desk.csv",
        lines(_odd_switches()),
        "switches",
        {
            "Moment": "at",
            "Deed": "action",
            "Path": "channel",
            "Left": "from_machine",
            "Right": "to_machine",
            "Spare": NONE,
            "Watch": "by",
        },
        asked_kind="switches",
    ),
    Export(
        "slots.csv",
        lines(_odd_bookings()),
        "bookings",
        {
            "Line": "booking",
            "Slot": "transmission",
            "Day": ("starts", "ends"),
            "On": "starts",
            "Off": "ends",
            "Length": NONE,
            "Net": "channel",
            "Name": "programme",
            "Deck": "machine",
            "Sort": "role",
        },
        asked_kind="bookings",
    ),
)
