"""The notebook: it runs on the invented room from its first cell to its last, and holds no output and no path."""

from __future__ import annotations

import json
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

from tests.docs.commands import ROOT, lay_out
from tests.finished_room import Finished

NOTEBOOK = ROOT / "docs" / "notebooks" / "own_questions.ipynb"


def test_it_holds_no_output_and_no_path_of_a_computer() -> None:
    text = NOTEBOOK.read_text(encoding="utf-8")
    notebook = nbformat.reads(text, as_version=4)
    nbformat.validate(notebook)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None
    for word in ("/home", "/work", "/Users", "C:\\", "python3.1"):
        assert word not in text


@pytest.mark.slow
def test_it_runs(finished: Finished, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its tables are looked at: the hours add up to the room's air and switches, the months to the machine's air."""
    folder = lay_out(tmp_path, finished.site)
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    monkeypatch.setenv("IPYTHONDIR", str(folder / "ipython"))
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    check = (
        "import json\n"
        "machine = site.machines().row(0, named=True)\n"
        "print(json.dumps([by_hour['air_h'].sum(), by_hour['count'].sum(), of_machine['air_h'].sum(),"
        " machine['air_s'] / 3600]))"
    )
    notebook.cells.insert(-1, nbformat.v4.new_code_cell(check))
    NotebookClient(
        notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(folder)}}
    ).execute()
    told = "".join(output["text"] for output in notebook.cells[-2].outputs if output["output_type"] == "stream")
    air_h, count, of_months, of_machine = json.loads(told)
    total = json.loads((finished.reports / "data" / "figures.json").read_text(encoding="utf-8"))["total"]
    assert air_h == pytest.approx(total["air_s"] / 3600)
    assert count == total["protect_switches"]
    assert of_months == pytest.approx(of_machine)
