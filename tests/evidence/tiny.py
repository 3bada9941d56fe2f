"""An evening of an invented room, small enough to be worked by hand: one channel, a pair, two hours and a bit.

All times are UTC, 2031-03-10; the room logs `alive`, so that silence ends what is known.

    19:00:00  TX1 on air from A, protect B (booked 19:00–20:00). Both roll locked; B logs an offset of 0.01 s.
    19:10:00  A loses its picture; 19:10:04.5 take to B, reason fault       -> lost 4.5 s, a forced switch
    19:20:00  A has its picture back: good, in step once an offset is logged (19:20:10)
    19:30:00 to 19:31:00  a ruling: not air
    19:40:00  B's last line but one; nothing until 19:50:00, silence_s 180   -> not known from 19:43:00 to 19:50:00
    20:00:00  end of TX1
"""

from __future__ import annotations

from pathlib import Path

SITE = """name = "Tiny room"
timezone = "UTC"
day_starts = "00:00"
frame_rate = 25
"""
BOOKINGS = """booking,transmission,channel,programme,show,reel,machine,role,starts,ends
B1,TX1,One,Moss,part 1,R1,A,air,2031-03-10T19:00:00Z,2031-03-10T20:00:00Z
B2,TX1,One,Moss,part 1,R1B,B,protect,2031-03-10T19:00:00Z,2031-03-10T20:00:00Z
"""
SWITCHES = """at,action,channel,from_machine,to_machine,reason,by
2031-03-10T18:59:58Z,take,One,standby,A,planned,Karin Holm
2031-03-10T19:10:04.500Z,take,One,A,B,fault,KH
"""
TICKETS = """ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,written_by
F1,A,2031-03-10T19:15Z,2031-03-10T19:45Z,2031-03-10T19:50Z,"karin holm saw snow, KH took B",heads,cleaned,,,,,Olof Lind
"""
RULINGS = """ruling,rules,channel,at,until,says,by,decided,why
R1,not air,One,2031-03-10T19:30:00Z,2031-03-10T19:31:00Z,,Olof Lind,2031-03-11T09:00:00Z,a test pattern
"""
SPOKEN = {
    "A": {
        "18:58:00": ["roll", "lock"], "19:10:00": ["picture_lost"], "19:20:00": ["picture_back"],
        "20:00:10": ["stop"],
    },
    "B": {"18:58:00": ["roll", "lock"], "18:58:30": ["offset,0.01,A"], "19:20:10": ["offset,0.01,A"]},
}  # fmt: skip
QUIET = {"B": (40, 50)}  # minutes after 19:00 between which the machine says nothing


def write_site(site: Path, *, rulings: bool = True) -> Path:
    (site / "events").mkdir(parents=True)
    texts = {"site.toml": SITE, "bookings.csv": BOOKINGS, "switches.csv": SWITCHES, "tickets.csv": TICKETS}
    if rulings:
        texts["rulings.csv"] = RULINGS
    for machine in SPOKEN:
        texts[f"events/{machine}.csv"] = "\n".join(["at,machine,event,value,detail", *_events(machine)]) + "\n"
    for name, text in texts.items():
        (site / name).write_text(text, encoding="utf-8")
    return site


def _events(machine: str) -> list[str]:
    """What the machine says, and `alive` each minute from 18:57 to 20:01, half a minute past it, unless it is quiet."""
    first, last = QUIET.get(machine, (99, 99))
    minutes = [minute for minute in range(-3, 62) if not first <= minute < last - 1]
    lines = [f"2031-03-10T{19 + minute // 60:02d}:{minute % 60:02d}:30Z,{machine},alive,," for minute in minutes]
    for at, words in SPOKEN[machine].items():
        for word in words:
            event, value, detail = (*word.split(","), "", "")[:3]
            lines.append(f"2031-03-10T{at}Z,{machine},{event},{value},{detail}")
    if machine in QUIET:  # the last line before it falls silent, and the first after
        lines += [f"2031-03-10T19:{minute}:00Z,{machine},alive,," for minute in QUIET[machine]]
        lines = [line for line in lines if not "2031-03-10T19:40:00Z" < line[:20] < "2031-03-10T19:50:00Z"]
    return sorted(lines, key=lambda line: line[:20])
