"""A new site folder: what is in it is accepted, also with every example taken up, and shows every key there is."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from pipeline import settings
from pipeline.errors import SiteError
from pipeline.ingest.feeds import FEEDS
from pipeline.ingest.mapping.feed_tables import FORMATS, KEYS, read_site_feeds
from pipeline.ingest.mapping.renumbering import KEYS as RENUMBERED_KEYS
from pipeline.ingest.propose import new_site

# Contract section 1: the optional keys and their defaults; sync_tolerance_s is 1 / frame_rate, here 1/25.
DEFAULTS = {
    "sync_tolerance_s": 0.04,
    "lead_s": 600,
    "carry_s": 14400,
    "silence_s": 180,
    "tail_s": 15,
    "merge_gap_s": 1.0,
    "start_delay_s": 0.0,
    "incident_gap_s": 900,
    "ticket_window_h": 24,
}
# Beside the contract's: names of persons are not shown unless the site says so.
SHOWN = {"show_persons": False}


def _uncommented(text: str) -> str:
    """``text`` with every key that is commented out taken up: those whose # is followed by no blank."""
    return re.sub(r"^#(?=\S)", "", text, flags=re.MULTILINE)


@pytest.fixture
def made(tmp_path: Path) -> Path:
    folder = tmp_path / "rooms" / "north"
    paths = new_site(folder)
    assert paths == [folder / "site.toml", folder / "README.txt", folder / "events"]
    return folder


def test_what_is_written_is_accepted(made: Path) -> None:
    read = settings.read_settings(made)
    assert (read.frame_rate, read.day_starts, read.lead_s) == (25.0, "00:00", 600.0)
    assert read_site_feeds(made, read).tables == ()
    assert not list((made / "events").iterdir())


def test_every_example_taken_up_is_accepted_too(made: Path) -> None:
    path = made / "site.toml"
    path.write_text(_uncommented(path.read_text()))
    read = settings.read_settings(made)
    feeds = read_site_feeds(made, read)
    assert len(feeds.tables) >= 5
    assert {table.format for table in feeds.tables} >= {"csv", "syslog", "excel", "calendar", "sql"}
    assert len(feeds.renumbered) == 1


def test_the_defaults_shown_are_those_of_the_contract(made: Path) -> None:
    shown = tomllib.loads(_uncommented((made / "site.toml").read_text()))
    assert {key: shown[key] for key in DEFAULTS | SHOWN} == DEFAULTS | SHOWN
    assert set(settings.KNOWN) <= set(shown)


def test_every_key_occurs(made: Path) -> None:
    shown = tomllib.loads(_uncommented((made / "site.toml").read_text()))
    assert set(settings.INPUTS) <= set(shown)
    assert {key for table in shown["feeds"] for key in table} == set(KEYS)
    assert set(shown["renumbered"][0]) == set(RENUMBERED_KEYS)
    text = (made / "site.toml").read_text()
    assert all(re.search(rf"\b{word}\b", text) for word in (*FORMATS, *(feed.name for feed in FEEDS)))


def test_every_commented_key_is_toml_by_itself(made: Path) -> None:
    for line in (made / "site.toml").read_text().splitlines():
        if re.match(r"#\S", line):
            tomllib.loads(line.removeprefix("#"))
        else:
            assert not line or line.startswith("# ") or re.match(r"[a-z_]+ = ", line)


def test_the_page_names_every_column(made: Path) -> None:
    page = (made / "README.txt").read_text()
    for feed in FEEDS:
        assert feed.pattern.rpartition("/")[2] in page
        assert all(re.search(rf"\b{column.name}\b", page) for column in feed.columns)


def test_nothing_is_overwritten(made: Path) -> None:
    (made / "site.toml").write_text("mine")
    with pytest.raises(SiteError, match="is there already") as caught:
        new_site(made)
    assert len(str(caught.value).splitlines()) == 1
    assert (made / "site.toml").read_text() == "mine"


def test_a_folder_with_a_page_and_events_is_taken_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "README.txt").write_text("mine")
    (tmp_path / "events").mkdir()
    assert new_site(tmp_path) == [tmp_path / "site.toml"]
    assert (tmp_path / "README.txt").read_text() == "mine"


def test_a_place_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("x")
    with pytest.raises(SiteError, match="is a file"):
        new_site(file)
    with pytest.raises(SiteError, match="cannot be made a site folder"):
        new_site(file / "below")
    with pytest.raises(SiteError):
        new_site(tmp_path / ("x" * 300))
