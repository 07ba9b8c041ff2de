# Two commands do everything on a fresh machine with Python 3.11+: make demo, make test.
PYTHON ?= $(shell command -v python3.13 || command -v python3.12 || command -v python3.11 || command -v python3)
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: demo pictures test lint bench soak clean

demo: $(READY)
	$(BIN)/reach check brackenfall --expect scenes/brackenfall/expected.csv

pictures: $(READY)
	$(BIN)/reach check brackenfall --expect scenes/brackenfall/expected.csv --pictures out/pictures

test: $(READY) lint
	$(BIN)/python -m pytest -q
	$(BIN)/python -m pytest -q --nbmake --nbmake-timeout=300 notebooks -p no:doctest -o addopts=""

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(READY)
	$(BIN)/python -m benchmarks

soak: $(READY)
	$(BIN)/python -m benchmarks --long

$(READY): pyproject.toml constraints.txt
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev,step]'
	touch $(READY)

clean:
	rm -rf $(VENV) out build dist .pytest_cache .mypy_cache .ruff_cache
