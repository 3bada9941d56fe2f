"""The site's settings, read once from site.toml and frozen: every threshold has its unit in its name."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.costs import Costs, costs_of_text, read_costs
from pipeline.errors import SiteError, refuse_unknown, wrong_setting

THRESHOLDS: dict[str, float] = {
    "lead_s": 600.0,
    "carry_s": 14400.0,
    "silence_s": 180.0,
    "tail_s": 15.0,
    "merge_gap_s": 1.0,
    "start_delay_s": 0.0,
    "incident_gap_s": 900.0,
    "ticket_window_h": 24.0,
}
REQUIRED = ("name", "timezone", "day_starts", "frame_rate")
SHOWN = ("show_persons",)  # what pages and answers may show
LANGUAGES = {"en": "en-GB", "de": "de-DE"}  # the pages' languages, each with the formats it has unless others are named
MONTHS = ("calendar", "broadcast")
WRITTEN = ("language", "locale", "months")  # how pages write words, numbers and months
ENGINES = ("duckdb", "spark")
RUN_BY = ("engine", "spark")  # what builds the tables; whichever does, they are the same
SPARK = {"master": "local[2]", "folder": ""}
KNOWN = (*REQUIRED, "sync_tolerance_s", *THRESHOLDS, *SHOWN, *WRITTEN, *RUN_BY, "costs")
INPUTS = (
    "feeds",
    "renumbered",
    "date_order",
    "reel_numbers",
)  # how files are written: pipeline/ingest reads these keys
FILE = "site.toml"
MOST_BYTES = 1 << 20  # a table for every file of a room is some tens of kilobytes
LARGEST = 1_000_000_000  # seconds: thirty years, and room for every sum with an instant


@dataclass(frozen=True)
class Settings:
    """One site's settings. Seconds end in ``_s``, hours in ``_h``; ``day_starts`` is local wall time, "HH:MM".

    ``show_persons``: names of persons stand where rows are shown; else they are masked. ``costs``: what things cost
    here, None where the site states nothing. ``language``: of the pages' words, one of LANGUAGES; ``locale``: of their
    numbers and dates, a BCP 47 tag; ``months``: one of MONTHS. ``engine``: one of ENGINES, with the master that Spark
    runs on and the folder for its files (empty: a temporary one).
    """

    name: str
    timezone: str
    day_starts: str
    frame_rate: float
    sync_tolerance_s: float
    lead_s: float
    carry_s: float
    silence_s: float
    tail_s: float
    merge_gap_s: float
    start_delay_s: float
    incident_gap_s: float
    ticket_window_h: float
    show_persons: bool = False
    costs: Costs | None = None
    language: str = "en"
    locale: str = "en-GB"
    months: str = "calendar"
    engine: str = "duckdb"
    spark_master: str = SPARK["master"]
    spark_folder: str = SPARK["folder"]

    @property
    def zone(self) -> ZoneInfo:
        """The zone of stamps that carry no offset."""
        return ZoneInfo(self.timezone)

    @property
    def day_start(self) -> time:
        """Local wall time at which the broadcast day starts."""
        return time.fromisoformat(self.day_starts)

    def row(self) -> dict[str, object]:
        """The settings as one row of ``site_settings``, the costs as one text, empty where none are stated.

        The engine is not among them: no figure depends on it.
        """
        row = asdict(self) | {"costs": self.costs.text() if self.costs else ""}
        return {key: value for key, value in row.items() if key not in ("engine", "spark_master", "spark_folder")}


def read_settings(site: Path) -> Settings:
    """The settings of the site folder ``site``.

    Raises:
        SiteError: no folder, no readable site.toml, a key missing, unknown or out of range.
    """
    values = read_toml(site)
    refuse_unknown(values, (*KNOWN, *INPUTS), FILE)
    for key in REQUIRED:
        if key not in values:
            raise SiteError(f'{FILE} has no key "{key}". It needs: {", ".join(REQUIRED)}.')
    frame_rate = _number(values["frame_rate"], "frame_rate", is_above_zero=True)
    language = _one_of(values.get("language", "en"), "language", tuple(LANGUAGES))
    return Settings(
        name=_text(values["name"], "name"),
        timezone=_zone_name(values["timezone"]),
        day_starts=_wall_time(values["day_starts"]),
        frame_rate=frame_rate,
        sync_tolerance_s=_number(values.get("sync_tolerance_s", 1 / frame_rate), "sync_tolerance_s"),
        **{key: _number(values.get(key, default), key) for key, default in THRESHOLDS.items()},
        show_persons=_truth(values.get("show_persons", False), "show_persons"),
        costs=read_costs(values["costs"]) if "costs" in values else None,
        language=language,
        locale=_locale_tag(values["locale"]) if "locale" in values else LANGUAGES[language],
        months=_one_of(values.get("months", "calendar"), "months", MONTHS),
        engine=_one_of(values.get("engine", ENGINES[0]), "engine", ENGINES),
        spark_master=_spark(values, "master"),
        spark_folder=_spark(values, "folder"),
    )


def settings_of_row(row: Mapping[str, Any]) -> Settings:
    """The settings behind a row of ``site_settings``, as ``Settings.row`` made it; older rows have no costs."""
    return Settings(**{**row, "costs": costs_of_text(row.get("costs"))})


def read_toml(site: Path) -> dict[str, object]:
    """The keys and values of the site's site.toml, unchecked.

    Raises:
        SiteError: no folder, or no readable site.toml.
    """
    if not site.is_dir():
        raise SiteError(f'"{site}" is not a folder. Expected a site folder that holds {FILE} and the feeds.')
    path = site / FILE
    try:
        if path.exists() and (not path.is_file() or path.stat().st_size > MOST_BYTES):
            raise SiteError(f"{path} is no settings file. Expected a text file of at most {MOST_BYTES >> 20} MiB.")
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except RecursionError:
        raise SiteError(
            f"{path} cannot be read as TOML: its brackets are nested too deep. Mend it and run again."
        ) from None
    except FileNotFoundError:
        raise SiteError(f'"{site}" has no {FILE}. A site folder needs one with {", ".join(REQUIRED)}.') from None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SiteError(f"{path} cannot be read as TOML: {error}. Mend that line and run again.") from None


def _text(value: object, key: str) -> str:
    if isinstance(value, str) and value.strip():
        return value.strip()
    raise wrong_setting(FILE, key, value, "a text that is not empty")


def _zone_name(value: object) -> str:
    try:
        return ZoneInfo(_text(value, "timezone")).key
    except (OSError, ValueError, KeyError):
        raise wrong_setting(FILE, "timezone", value, 'a zone of the IANA list, such as "Europe/Stockholm"') from None


def _wall_time(value: object) -> str:
    text = (
        value.isoformat("minutes" if value.second == value.microsecond == 0 else "auto")
        if isinstance(value, time)
        else value
    )
    try:
        return datetime.strptime(str(text), "%H:%M").strftime("%H:%M")  # noqa: DTZ007 - a wall time has no zone
    except ValueError:
        raise wrong_setting(FILE, "day_starts", value, 'a wall time such as "06:00"') from None


def _one_of(value: object, key: str, allowed: tuple[str, ...]) -> str:
    if isinstance(value, str) and value in allowed:
        return value
    raise wrong_setting(FILE, key, value, " or ".join(f'"{one}"' for one in allowed))


def _spark(values: Mapping[str, object], key: str) -> str:
    """One key of the table ``[spark]``."""
    table = values.get("spark", {})
    if not isinstance(table, dict):
        raise wrong_setting(FILE, "spark", table, "a table [spark]")
    refuse_unknown(table, tuple(SPARK), f"[spark] of {FILE}")
    return _text(table[key], key) if key in table else SPARK[key]


def _locale_tag(value: object) -> str:
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 - a site that names none does not pay for it

    try:
        return str(Locale.parse(_text(value, "locale"), sep="-")).replace("_", "-")
    except (UnknownLocaleError, ValueError):
        raise wrong_setting(FILE, "locale", value, 'a BCP 47 tag such as "en-GB", "en-US" or "de-AT"') from None


def _truth(value: object, key: str) -> bool:
    if isinstance(value, bool):
        return value
    raise wrong_setting(FILE, key, value, "true or false, without quotes")


def _number(value: object, key: str, *, is_above_zero: bool = False) -> float:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    # A not-a-number compares as false with everything, and a huge whole number is no float.
    if is_number and (value > 0 if is_above_zero else value >= 0) and value <= LARGEST:  # type: ignore[operator]
        return float(value)  # type: ignore[arg-type]
    allowed = "a number above 0" if is_above_zero else "a number, 0 or more"
    raise wrong_setting(FILE, key, value, f"{allowed}, and at most {LARGEST:,}")
