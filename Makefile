# Two targets do everything on a fresh machine with Python 3.11 or newer: `make report` and `make test`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# A module is compiled once and not by each process anew, whatever the shell says.
export PYTHONDONTWRITEBYTECODE :=
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet

.PHONY: report test lint quick slow coverage bench screenshots pictures sample lock clean

report: $(VENV)/.installed
	@$(BIN)/airhours run sample_logs --out reports

test: lint quick slow

lint: $(VENV)/.installed-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

quick: $(VENV)/.installed-test
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -m "not slow and not browser"

# The violence keeps both cores busy by itself.
slow: $(VENV)/.installed-test
	$(BIN)/python -m pytest -m "slow or browser" tests/test_safety.py
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -m "slow or browser" --ignore tests/test_safety.py

# How often the figures keep their promises, in rooms whose truth is known; half an hour on two cores.
coverage: $(VENV)/.installed
	$(BIN)/python -m bench.coverage

# How fast it is, beside the engine alone and the same job by hand; about twelve minutes on two cores at a million lines.
LINES ?= 1000000
bench: $(VENV)/.installed
	$(BIN)/python -m bench.speed --lines $(LINES) --date $$(date -u +%F) --revision $$(git rev-parse --short HEAD) $(BENCH)

# The invented room, written anew from its seed; `git diff` then says whether anything moved.
sample: $(VENV)/.installed
	$(BIN)/python sample_logs/write_room.py

# Pictures of every kind of page, at desktop, phone and print size; needs Chromium.
screenshots: $(VENV)/.installed-test report
	$(BIN)/python tests/browser/screenshots.py reports reports/pictures

# The pictures of docs/pages.md, one of each kind of page.
pictures: $(VENV)/.installed-test report
	$(BIN)/python tests/browser/screenshots.py reports docs/pictures --docs

$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo 'airhours needs Python 3.11 or newer; name one with: make PYTHON=/path/to/python3' >&2; exit 2; }
	@$(PYTHON) -m venv $(VENV) || \
		{ echo 'Python cannot make an environment here. On Debian: apt install python3-venv' >&2; exit 2; }

$(VENV)/.installed: requirements.txt pyproject.toml | $(VENV)/bin/python
	$(PIP) install --require-hashes -r requirements.txt
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.installed-test: requirements-test.txt $(VENV)/.installed
	$(PIP) install --require-hashes -r requirements-test.txt
	@touch $@

# Pin anew from pyproject.toml: versions and hashes for every platform, no addresses.
lock:
	uv pip compile --universal --python-version 3.11 --generate-hashes --no-annotate --no-header --extra build pyproject.toml -o requirements.txt
	uv pip compile --universal --python-version 3.11 --generate-hashes --no-annotate --no-header --extra test pyproject.toml -o requirements-test.txt

clean:
	rm -rf $(VENV) build dist *.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
