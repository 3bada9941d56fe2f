"""Looks at a file as a person would: what it is, how it is written, and its first rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from pipeline.errors import FeedError
from pipeline.ingest.calendars.calendar_reader import read_calendar
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.find import FoundFile
from pipeline.ingest.parquet_reader import read_parquet
from pipeline.ingest.propose.delimited import NAMES, Spelling, recognise_spelling, unused_delimiter
from pipeline.ingest.propose.forms import Form
from pipeline.ingest.propose.sample import Sample, TextStart, read_start, take_sample
from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.sheets import choose_sheet
from pipeline.ingest.propose.text_encoding import propose_encoding
from pipeline.ingest.propose.toml_text import shown, text_value
from pipeline.ingest.syslog.syslog_reader import read_syslog
from pipeline.ingest.text.csv_reader import read_csv
from pipeline.ingest.text.jsonl_reader import read_jsonl
from pipeline.ingest.workbooks.excel_reader import read_excel

UTC = ZoneInfo("UTC")
NO_HEADER = "the first line that is as wide as the rows holds values, so that columns have numbers for names"
LINES_TRIED = 2_000


@dataclass(frozen=True)
class Look:
    """What was seen of a file: the keys that say how it is written, its first rows, and whether its lines are texts.

    ``dialect`` is that of delimited text; ``is_prose`` tells lines that nothing parts into cells;
    ``day_system`` is serial_1900 or serial_1904 where a workbook says it.
    """

    findings: Findings
    sample: Sample
    dialect: Dialect | None = None
    is_prose: bool = False
    day_system: str = ""


def look_at(found: FoundFile, form: Form, kind: str) -> Look:
    """What the file is written like, and its first rows; ``kind`` of feed as asked for, or empty.

    Raises:
        FeedError: it cannot be read.
    """
    written = Findings((Setting("format", text_value(form.format), form.why),), undecided=tuple(_archived(form)))
    if form.format == "parquet":
        return Look(written, take_sample(read_parquet(found), found.file, is_whole=True))
    if form.format == "excel":
        return _look_at_workbook(found, written, kind)
    start = read_start(found)
    written += propose_encoding(start.raw)
    if form.format == "csv":
        return _look_at_delimited(found, start, written)
    if form.format == "calendar":
        batches = read_calendar(start.stream(), found.file, UTC, until=None)
    else:
        read = read_syslog if form.format == "syslog" else read_jsonl
        batches = read(start.stream(), found.file)
    return Look(written, take_sample(batches, found.file, is_whole=start.is_whole))


def _archived(form: Form) -> Iterator[str]:
    if form.member_count > 1:
        first = f"path: the archive holds {form.member_count:,} files, of which {shown(form.member)} was looked at."
        yield f"{first} The table is for all of them; unpack it if they are of different makes."


def _look_at_workbook(found: FoundFile, written: Findings, kind: str) -> Look:
    sheet = choose_sheet(found, kind)
    batches = read_excel(found.path, found.file, Dialect(header_row=sheet.header_line), sheet.name)
    sample = take_sample(batches, found.file, is_whole=True)
    return Look(written + sheet.findings, sample, day_system=sheet.day_system)


def _look_at_delimited(found: FoundFile, start: TextStart, written: Findings) -> Look:
    spelling = recognise_spelling(start.lines[:LINES_TRIED])
    if not spelling.delimiter:
        return _look_at_prose(found, start, written)
    line = spelling.header_line
    dialect = Dialect(spelling.delimiter, spelling.quote, "utf-8", line, wanted=spelling.short_names)
    sample = take_sample(read_csv(start.stream(), found.file, dialect), found.file, is_whole=start.is_whole)
    findings = written + Findings(tuple(_spelled(spelling, line, _first_filled(start.lines))))
    return Look(findings, sample, dialect)


def _spelled(spelling: Spelling, line: int, first: int) -> list[Setting]:
    agreeing = f"{spelling.agreeing} of the first {spelling.looked_at} records"
    why = f"{agreeing} have {spelling.width} cells by the {NAMES[spelling.delimiter]}"
    settings = [Setting("delimiter", text_value(spelling.delimiter), why)]
    if spelling.quote != '"':
        settings.append(Setting("quote", text_value(spelling.quote), "most cells stand between such"))
    if line == 0:
        settings.append(Setting("header_row", "0", NO_HEADER))
    elif line != first:
        settings.append(Setting("header_row", str(line), "the first line as wide as the rows whose cells are names"))
    return settings


def _look_at_prose(found: FoundFile, start: TextStart, written: Findings) -> Look:
    """A text whose lines nothing parts: each is read as one cell."""
    delimiter = unused_delimiter("\n".join(start.lines))
    if not delimiter:
        raise FeedError(f'"{found.file}" is neither a table nor a log with one kind of line. Export it as CSV.')
    dialect = Dialect(delimiter, "", "utf-8", 0)
    sample = take_sample(read_csv(start.stream(), found.file, dialect), found.file, is_whole=start.is_whole)
    settings = (
        Setting("delimiter", text_value(delimiter), f"no line holds a {NAMES[delimiter]}, so that each is one cell"),
        Setting("quote", '""', "quotes stand for themselves"),
        Setting("header_row", "0", "every line is a row"),
    )
    return Look(written + Findings(settings), sample, dialect, is_prose=True)


def _first_filled(lines: list[str]) -> int:
    return next((number for number, line in enumerate(lines, start=1) if line), 1)
