"""site.toml: the contract's defaults, and a plain line for every value that is not allowed."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipeline.errors import SiteError
from pipeline.settings import Settings, read_settings

SMALLEST = """
name = "Northgate tape room"
timezone = "Europe/Stockholm"
day_starts = "00:00"
frame_rate = 25
"""
# Contract, section 1, the table of optional keys.
WRITTEN = {"language": "en", "locale": "en-GB", "months": "calendar"}
DEFAULTS = {
    "lead_s": 600, "carry_s": 14400, "silence_s": 180, "tail_s": 15, "merge_gap_s": 1.0, "start_delay_s": 0.0,
    "incident_gap_s": 900, "ticket_window_h": 24,
}  # fmt: skip


def settings(folder: Path, text: str | bytes) -> Settings:
    (folder / "site.toml").write_bytes(text.encode() if isinstance(text, str) else text)
    return read_settings(folder)


def with_line(line: str) -> str:
    """The smallest file with one line instead of the key's own, or added."""
    key = line.partition("=")[0].strip()
    kept = [old for old in SMALLEST.strip().splitlines() if old.partition("=")[0].strip() != key]
    return "\n".join([*kept, line])


def test_the_smallest_file_gives_the_defaults(tmp_path: Path) -> None:
    """One frame of 25 a second is 0.04 s."""
    row = settings(tmp_path, SMALLEST).row()
    named = {"name": "Northgate tape room", "timezone": "Europe/Stockholm", "day_starts": "00:00", "frame_rate": 25.0}
    assert row == named | {"sync_tolerance_s": 0.04, "show_persons": False, "costs": "", **WRITTEN} | DEFAULTS
    assert all(isinstance(value, float | str) for key, value in row.items() if key != "show_persons")


def test_persons_are_shown_only_where_the_site_says_so(tmp_path: Path) -> None:
    """Not named: not shown. A truth value and nothing else: "false" in quotes would be true to many a program."""
    assert settings(tmp_path, SMALLEST).show_persons is False
    assert settings(tmp_path, with_line("show_persons = true")).show_persons is True
    assert settings(tmp_path, with_line("show_persons = false")).show_persons is False


@pytest.mark.parametrize("key", [*DEFAULTS, "sync_tolerance_s"])
def test_each_default_can_be_set_also_to_nought(tmp_path: Path, key: str) -> None:
    assert settings(tmp_path, with_line(f"{key} = 7")).row()[key] == 7.0
    assert settings(tmp_path, with_line(f"{key} = 0")).row()[key] == 0.0
    assert settings(tmp_path, with_line(f"{key} = 0.25")).row()[key] == 0.25


def test_the_tolerance_follows_the_frame_rate(tmp_path: Path) -> None:
    """One frame of 30000/1001 a second is 1001/30000 s."""
    assert settings(tmp_path, with_line("frame_rate = 29.97002997")).sync_tolerance_s == pytest.approx(1001 / 30000)


def test_zone_and_broadcast_day(tmp_path: Path) -> None:
    read = settings(tmp_path, with_line('day_starts = "06:30"'))
    assert (read.zone, read.day_start) == (ZoneInfo("Europe/Stockholm"), time(6, 30))
    assert settings(tmp_path, with_line("day_starts = 06:00:00")).day_starts == "06:00"  # a TOML local time


def test_a_byte_order_mark_and_foreign_letters_are_read(tmp_path: Path) -> None:
    text = "\ufeff" + with_line('name = " Övre rummet "')
    assert settings(tmp_path, text).name == "Övre rummet"


def test_settings_are_frozen(tmp_path: Path) -> None:
    read = settings(tmp_path, SMALLEST)
    with pytest.raises(FrozenInstanceError):
        read.lead_s = 1.0  # type: ignore[misc]


@pytest.mark.parametrize(
    "line",
    [
        'name = ""', 'name = "  "', "name = 5",
        'timezone = "Stockholm"', 'timezone = ""', "timezone = 1", 'timezone = "../etc/passwd"', 'timezone = "Europe"',
        'day_starts = "six"', 'day_starts = "25:00"', "day_starts = 6", 'day_starts = ""',
        'day_starts = "06:00:30"', 'day_starts = "06:00+02:00"',  # no part of a value is dropped in silence
        "frame_rate = 0", "frame_rate = -25", 'frame_rate = "25"', "frame_rate = true", "frame_rate = nan",
        "frame_rate = inf", "lead_s = -1", 'lead_s = "10"', "lead_s = true", "tail_s = nan", "merge_gap_s = inf",
        "sync_tolerance_s = -0.04", "carry_s = [1]",
        'show_persons = "false"', 'show_persons = "true"', "show_persons = 1", "show_persons = 0", 'show_persons = ""',
        "lead_s = 1e300", f"frame_rate = 1{'0' * 400}",  # more than an instant or a double can take
    ],
)  # fmt: skip
def test_a_value_that_is_not_allowed_is_named_with_its_key_and_what_is(tmp_path: Path, line: str) -> None:
    key = line.partition("=")[0].strip()
    with pytest.raises(SiteError, match=rf'^site\.toml, key {key}: ".*" is not allowed\. Expected .+\.$'):
        settings(tmp_path, with_line(line))


@pytest.mark.parametrize("key", ["name", "timezone", "day_starts", "frame_rate"])
def test_a_missing_key_is_named(tmp_path: Path, key: str) -> None:
    text = "\n".join(line for line in SMALLEST.splitlines() if not line.startswith(key))
    with pytest.raises(SiteError, match=rf'no key "{key}".*frame_rate'):
        settings(tmp_path, text)


def test_an_unknown_key_is_not_passed_over(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match=r'unknown key "lead_seconds".*Did you mean lead_s\?'):
        settings(tmp_path, with_line("lead_seconds = 5"))
    with pytest.raises(SiteError, match=r'unknown key "colour".*Known keys: name, timezone'):
        settings(tmp_path, with_line("colour = 5"))


def test_no_folder_no_file_and_no_toml_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match=r'nowhere" is not a folder'):
        read_settings(tmp_path / "nowhere")
    with pytest.raises(SiteError, match=r"has no site\.toml.*name, timezone, day_starts, frame_rate"):
        read_settings(tmp_path)
    with pytest.raises(SiteError, match=r"cannot be read as TOML.*line 2"):
        settings(tmp_path, 'name = "a"\nfoo\ntimezone = "UTC"')
    with pytest.raises(SiteError, match="cannot be read as TOML"):
        settings(tmp_path, b'name = "\xff"')


def test_messages_are_one_line(tmp_path: Path) -> None:
    for text in ('name = "a"\nfoo', 'name = """\n\n"""\n' + with_line("name = 1"), b"\xff\n\xfe"):
        with pytest.raises(SiteError) as raised:
            settings(tmp_path, text)
        assert len(str(raised.value).splitlines()) == 1
