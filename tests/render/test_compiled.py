"""Templates are compiled once, and what is kept of them is never trusted further than their text."""

from __future__ import annotations

import sys
from pathlib import Path

import jinja2
import pytest

from pipeline.render.compiled import CompiledTemplates


def fill(templates: Path, kept: Path) -> str:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(templates), bytecode_cache=CompiledTemplates(kept), autoescape=True
    )
    return environment.get_template("a.j2").render(n=2)


@pytest.fixture
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    kept = tmp_path / "kept"
    kept.mkdir()
    (tmp_path / "a.j2").write_text("{{ n }} reels")
    return tmp_path, kept


def test_a_template_is_taken_from_the_folder_until_its_text_changes(
    folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    templates, kept = folders
    assert fill(templates, kept) == "2 reels"
    assert len(list(kept.iterdir())) == 1
    with monkeypatch.context() as patched:
        patched.setattr(jinja2.Environment, "compile", lambda *_, **__: pytest.fail("compiled again"))
        assert fill(templates, kept) == "2 reels"
    (templates / "a.j2").write_text("{{ n }} tapes")
    assert fill(templates, kept) == "2 tapes"


@pytest.mark.parametrize("damage", [b"", b"nothing of ours", None])
def test_a_damaged_one_is_compiled_again(folders: tuple[Path, Path], damage: bytes | None) -> None:
    templates, kept = folders
    fill(templates, kept)
    (file,) = kept.iterdir()
    file.write_bytes(file.read_bytes()[:-9] if damage is None else damage)
    assert fill(templates, kept) == "2 reels"


def test_none_is_left_where_python_leaves_none(
    folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    templates, kept = folders
    assert fill(templates, tmp_path / "nowhere") == "2 reels"
    assert not (tmp_path / "nowhere").exists()
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert fill(templates, kept) == "2 reels"
    assert not list(kept.iterdir())
