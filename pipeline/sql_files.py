"""The models as files: where sql/ lies, what each file says it reads, and the order that follows.

Every model starts with a comment: sentences, then ``grain:``, ``key:`` and ``reads:``, and where they
hold ``stored:`` and ``renewed:``. The order of building is read
off ``reads:``; a test holds those lines against the tables the select really names. The
checks are written the same way and build nothing. Two rooms read these files, so they belong to neither.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from graphlib import TopologicalSorter
from itertools import takewhile
from pathlib import Path

PACKAGED = Path(__file__).resolve().parent / "sql"
CHECKOUT = Path(__file__).resolve().parent.parent / "sql"
STAGES = ("clean", "core", "metrics")
COMMENT = re.compile(r"^--.*\n", re.MULTILINE)


@dataclass(frozen=True)
class Model:
    """One select: its table's name, what it says of itself, and its text; ``stored: as a view`` makes it a view.

    ``renewed`` says how the table is brought up to date where only some of its input changed (see pipeline/model);
    empty: it is made anew as a whole.
    """

    name: str
    sentence: str
    grain: str
    key: tuple[str, ...]
    reads: tuple[str, ...]
    sql: str
    is_view: bool = False
    renewed: str = ""


def sql_folder() -> Path:
    """The folder of the models: inside the installed package, or at the top of the checkout."""
    return PACKAGED if PACKAGED.is_dir() else CHECKOUT


def read_models(folder: Path | None = None) -> tuple[Model, ...]:
    """All models of the stages clean, core and metrics, each after those it reads."""
    root = folder or sql_folder()
    models = {path.stem: read_model(path) for stage in STAGES for path in sorted((root / stage).glob("*.sql"))}
    graph = {name: sorted(set(model.reads) & set(models)) for name, model in models.items()}
    return tuple(models[name] for name in TopologicalSorter(graph).static_order())


def read_checks(folder: Path | None = None) -> tuple[Model, ...]:
    """The selects of the stage checks by name; each returns the rows that break its rule, and none builds a table."""
    return tuple(read_model(path) for path in sorted(((folder or sql_folder()) / "checks").glob("*.sql")))


def read_model(path: Path) -> Model:
    """The model in one file."""
    text = path.read_text(encoding="utf-8")
    header = [line[2:].strip() for line in takewhile(lambda line: line.startswith("--"), text.splitlines())]
    fields = {"grain": "", "key": "", "reads": "", "stored": "", "renewed": ""}
    sentence: list[str] = []
    for line in header:
        word, _, rest = line.partition(":")
        if word in fields:
            fields[word] = rest.strip()
        else:
            sentence.append(line)
    return Model(
        name=path.stem,
        sentence=" ".join(sentence),
        grain=fields["grain"],
        key=_names(fields["key"]),
        reads=_names(fields["reads"]),
        sql=COMMENT.sub("", text).strip(),
        is_view=fields["stored"] == "as a view",
        renewed=fields["renewed"],
    )


def _names(listed: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in listed.split(",") if name.strip())
