"""A backup brings back every table and file as it was; one that is damaged or leads astray changes nothing."""

from __future__ import annotations

import json
import random
import shutil
import stat
import zipfile
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import AirhoursError, BusyError, OutputError, QuestionError, SiteError
from pipeline.flow import run_site
from pipeline.keeping import back_up, restore
from pipeline.keeping.contents import MANIFEST
from pipeline.places import DATABASE
from pipeline.store import Store
from pipeline.upgrade.versions import VERSION
from tests.command.room import airhours
from tests.keeping.tables import read_all, run_sql
from tests.safety.state import read_files

WRITTEN = ("site.toml", "rulings.csv")


@pytest.fixture(scope="module")
def kept_backup(kept_room: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return back_up(kept_room, tmp_path_factory.mktemp("backup") / "room.zip").file


@pytest.fixture
def backup(kept_backup: Path, tmp_path: Path) -> Path:
    """A backup of ``site`` that may be written in: of the same site it has the same bytes, which is tested below."""
    return Path(shutil.copy(kept_backup, tmp_path / "room.zip"))


def test_a_site_is_as_it_was_and_the_next_run_has_nothing_new(site: Path, backup: Path) -> None:
    before, files = read_all(site / DATABASE), read_files(site)
    (site / DATABASE).unlink()
    for name in WRITTEN:
        (site / name).write_text("lost", encoding="utf-8")
    restore(backup, site, is_replacing=True)
    assert read_all(site / DATABASE) == before
    assert {**read_files(site), DATABASE: ""} == {**files, DATABASE: ""}
    told: list[str] = []
    assert not run_site(site, narrate=told.append).is_changed
    assert told[-1].startswith("nothing new")


def test_a_restored_folder_answers_and_makes_its_pages_without_exports(
    site: Path, backup: Path, tmp_path: Path
) -> None:
    restore(backup, tmp_path / "deep" / "new")
    new = tmp_path / "deep" / "new"
    assert {path.name for path in new.iterdir()} == {DATABASE, *WRITTEN}
    assert airhours("report", "all", new, "--quiet").exit_code == 0
    for name in ("index.html", "month-2031-03.html", "lines.html"):
        assert (new / "reports" / name).read_bytes() == (site / "reports" / name).read_bytes()


def test_what_parquet_does_not_hold_comes_back_too(site: Path, tmp_path: Path) -> None:
    run_sql(
        site / DATABASE,
        "create table odd as select interval 1 month + interval 3 day - interval '0.000001 s' as span,"
        " 170141183460469231731687303715884105727::hugeint as huge, 'nan'::double as no_number,"
        " 0.1::decimal(38, 6) as exact, time '10:00:00.000001' as wall, ['a', null] as many,"
        """ date '0002-01-01' as old, timestamp '9999-12-31 23:59:59.999999' as "odd ""name", '\x07é' as text""",
        "insert into odd (huge) values (null)",
    )
    before = read_all(site / DATABASE)
    back_up(site, tmp_path / "odd.zip")
    restore(tmp_path / "odd.zip", tmp_path / "new")
    after = read_all(tmp_path / "new" / DATABASE)
    assert after["odd"][0] == before["odd"][0]
    assert repr(after) == repr(before)  # by their text, for no number equals itself


def test_the_same_site_gives_the_same_bytes_and_no_name_of_the_machine(site: Path, backup: Path) -> None:
    again = back_up(site, backup.with_name("again.zip")).file
    assert again.read_bytes() == backup.read_bytes()
    with zipfile.ZipFile(backup) as bundle:
        manifest = bundle.read(MANIFEST).decode()
    assert str(site.parent) not in manifest
    told = json.loads(manifest)
    assert (told["site"], told["schema_version"]) == ("Invented room", VERSION)
    assert [each["file"] for each in told["files"]] == list(WRITTEN)


def test_a_backup_is_read_by_no_one_who_may_not_read_the_database(site: Path, tmp_path: Path) -> None:
    (site / DATABASE).chmod(0o600)
    file = back_up(site, tmp_path / "room.zip").file
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_nothing_is_overwritten_unasked(site: Path, backup: Path, tmp_path: Path) -> None:
    bytes_before = backup.read_bytes()
    with pytest.raises(OutputError, match=r"room\.zip is there already.*--replace"):
        back_up(site, backup)
    run_sql(site / DATABASE, "delete from raw_switches")
    before = read_files(site)
    with pytest.raises(OutputError, match=r"airhours\.duckdb is there already.*--replace"):
        restore(backup, site)
    other = tmp_path / "other"
    other.mkdir()
    (other / "site.toml").write_text('name = "Another"\n', encoding="utf-8")
    with pytest.raises(OutputError, match=r"site\.toml is there already.*--replace"):
        restore(backup, other)
    assert read_files(site) == before
    assert [path.name for path in other.iterdir()] == ["site.toml"]
    assert backup.read_bytes() == bytes_before


def test_a_folder_that_only_lost_its_database_is_no_overwriting(site: Path, backup: Path) -> None:
    before = read_all(site / DATABASE)
    (site / DATABASE).unlink()
    restore(backup, site)
    assert read_all(site / DATABASE) == before


def test_a_replaced_backup_is_the_new_one(site: Path, backup: Path) -> None:
    before = backup.read_bytes()
    run_sql(site / DATABASE, "create table later as select 1 as one")
    back_up(site, backup, is_replacing=True)
    assert backup.read_bytes() != before
    assert [path.name for path in backup.parent.iterdir() if path.name.startswith(".airhours")] == []


# --- files that are no good


def rewritten(backup: Path, change: Callable[[dict[str, bytes]], None], **how: Any) -> Path:
    """The backup with members changed, its manifest written last."""
    with zipfile.ZipFile(backup) as bundle:
        members = {each.filename: bundle.read(each) for each in bundle.infolist()}
    change(members)
    other = backup.with_name("other.zip")
    with zipfile.ZipFile(other, "w", **how) as bundle:
        for name, content in members.items():
            bundle.writestr(zipfile.ZipInfo(name), content, how.get("compression"))
    return other


def named_otherwise(old: str, new: str) -> Callable[[dict[str, bytes]], None]:
    """Give a file that people wrote another name, in the manifest too, so that all else agrees."""

    def change(members: dict[str, bytes]) -> None:
        members[f"site/{new}"] = members.pop(f"site/{old}")
        told = json.loads(members.pop(MANIFEST))
        for each in told["files"]:
            each["file"] = new if each["file"] == old else each["file"]
        members[MANIFEST] = json.dumps(told).encode()

    return change


def told_otherwise(change: Callable[[dict[str, Any]], None]) -> Callable[[dict[str, bytes]], None]:
    def changed(members: dict[str, bytes]) -> None:
        told = json.loads(members.pop(MANIFEST))
        change(told)
        members[MANIFEST] = json.dumps(told).encode()

    return changed


def altered(members: dict[str, bytes]) -> None:
    members["site/site.toml"] += b"\n"


def renamed_table(told: dict[str, Any]) -> None:
    told["tables"][0]["table"] = 'x" (a int); drop table y; --'


def odd_type(told: dict[str, Any]) -> None:
    told["tables"][0]["columns"][0][1] = "VARCHAR); drop table raw_events; --"


def too_few(told: dict[str, Any]) -> None:
    told["tables"][0]["rows"] += 1


def too_new(told: dict[str, Any]) -> None:
    told["schema_version"] = VERSION + 1


def another_kind(told: dict[str, Any]) -> None:
    told["kind"] = "another"


@pytest.mark.parametrize(
    ("change", "why"),
    [
        *((named_otherwise("rulings.csv", name), "manifest is not one") for name in (
            "../rulings.csv", "/etc/rulings.csv", "a/../../b.csv", "C:rulings.csv", "a\\..\\b.csv", ".profile",
            "a//b.csv", "a/./b.csv", "x\x00.csv", "~root/x.csv", "",
        )),
        (named_otherwise("site.toml", "other.toml"), r"or no site\.toml"),
        (altered, r"site/site\.toml is not what it was"),
        (lambda members: members.update({"site/more.csv": b""}), "members are not those"),
        (lambda members: members.pop("tables/raw_switches.parquet"), "members are not those"),
        (lambda members: members.pop(MANIFEST), r"has no manifest\.json"),
        (told_otherwise(renamed_table), "manifest is not one"),
        (told_otherwise(odd_type), "manifest is not one"),
        (told_otherwise(another_kind), "manifest is not one"),
        (told_otherwise(too_few), "not as many rows"),
        (told_otherwise(too_new), "install the newer airhours"),
        (lambda members: members.update({MANIFEST: b"[" * 100_000}), "manifest is not one"),
    ],
)  # fmt: skip
def test_what_is_no_backup_of_ours_changes_nothing(
    site: Path, backup: Path, tmp_path: Path, change: Callable[[dict[str, bytes]], None], why: str
) -> None:
    other = rewritten(backup, change)
    before = read_files(tmp_path)
    for target in (site, tmp_path / "new"):
        with pytest.raises(QuestionError, match=why) as refused:
            restore(other, target, is_replacing=True)
        assert "\n" not in str(refused.value)
    assert read_files(tmp_path) == before
    assert not (tmp_path / "new").exists()


def test_packed_members_are_refused_unread(site: Path, backup: Path) -> None:
    """An archive made to explode has packed members: none of ours is packed."""
    other = rewritten(backup, lambda _: None, compression=zipfile.ZIP_DEFLATED)
    with pytest.raises(QuestionError, match="packed or encrypted"):
        restore(other, site, is_replacing=True)


def test_a_backup_cut_short_or_with_an_altered_byte_is_noticed(site: Path, backup: Path, tmp_path: Path) -> None:
    """A byte that only the archive's own dates or padding hold may alter without harm: then all is as it was."""
    whole, dice = backup.read_bytes(), random.Random(1)
    before = read_all(site / DATABASE)
    target = tmp_path / "new"
    noticed = 0
    for number in range(12):
        damaged = bytearray(whole)
        place = dice.randrange(len(whole))
        damaged[place] ^= 0x55
        backup.write_bytes(whole[:place] if number % 2 else bytes(damaged))
        refusal = refusal_of(backup, target)
        noticed += bool(refusal)
        if refusal:
            assert "Nothing was changed" in refusal
            assert not target.exists()
        else:
            assert read_all(target / DATABASE) == before
            shutil.rmtree(target)
    assert noticed >= 10


def refusal_of(backup: Path, target: Path) -> str:
    """What is said against restoring; empty where it is done."""
    try:
        restore(backup, target)
    except AirhoursError as error:
        return str(error)
    return ""


def test_a_link_does_not_lead_out_of_the_site(backup: Path, tmp_path: Path) -> None:
    outside, target = tmp_path / "outside.csv", tmp_path / "new"
    outside.write_text("theirs", encoding="utf-8")
    target.mkdir()
    (target / "rulings.csv").symlink_to(outside)
    with pytest.raises(OutputError, match="leads out of the site folder"):
        restore(backup, target, is_replacing=True)
    assert outside.read_text(encoding="utf-8") == "theirs"


def test_no_file_no_run_no_settings(site: Path, tmp_path: Path) -> None:
    with pytest.raises(QuestionError, match=r'There is no file ".*none\.zip"'):
        restore(tmp_path / "none.zip", site)
    (tmp_path / "text.zip").write_text("no archive", encoding="utf-8")
    with pytest.raises(QuestionError, match="damaged or no backup"):
        restore(tmp_path / "text.zip", site)
    with pytest.raises(OutputError, match="does not exist"):
        back_up(site, tmp_path / "nowhere" / "room.zip")
    (site / "site.toml").unlink()
    with pytest.raises(SiteError, match=r"has no site\.toml"):
        back_up(site, tmp_path / "room.zip")


def test_a_site_at_work_is_left_alone(site: Path, backup: Path) -> None:
    """The holder is another process, for the engine lets one process open a file twice."""
    import subprocess
    import sys

    hold = "import duckdb, sys; c = duckdb.connect(sys.argv[1]); print(1, flush=True); sys.stdin.read()"
    command = [sys.executable, "-c", hold, str(site / DATABASE)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        with pytest.raises(BusyError):
            restore(backup, site, is_replacing=True)
        with pytest.raises(BusyError):
            back_up(site, backup, is_replacing=True)
        process.communicate(b"")
    with Store(site / DATABASE) as store:
        assert store.tables()


def test_the_sums_of_the_manifest_are_those_of_the_members(backup: Path) -> None:
    with zipfile.ZipFile(backup) as bundle:
        told = json.loads(bundle.read(MANIFEST))
        sums = {f"tables/{each['table']}.parquet": each["sha256"] for each in told["tables"]}
        sums |= {f"site/{each['file']}": each["sha256"] for each in told["files"]}
        assert sums == {
            each.filename: sha256(bundle.read(each)).hexdigest()
            for each in bundle.infolist()
            if each.filename != MANIFEST
        }


def test_the_commands_say_what_they_did(site: Path, tmp_path: Path) -> None:
    made = airhours("backup", site, tmp_path / "room.zip", "--json")
    told = json.loads(made.stdout)
    assert (told["site"], told["files"], told["schema_version"]) == ("Invented room", list(WRITTEN), VERSION)
    assert told["size_bytes"] == (tmp_path / "room.zip").stat().st_size
    back = airhours("restore", tmp_path / "room.zip", tmp_path / "new")
    assert "Invented room, data as of 2031-" in back.stdout
    assert f"is back in {tmp_path / 'new' / DATABASE}" in back.stdout
