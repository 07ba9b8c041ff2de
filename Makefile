# Two commands do everything on a fresh machine with Python 3.11+: make demo, make test.
FITS := import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))
PYTHON ?= $(shell for p in python3 python3.13 python3.12 python3.11; do \
	$$p -c '$(FITS)' 2>/dev/null && echo $$p && break; done)
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: demo pictures test lint bench soak clean

demo: $(READY)
	$(BIN)/reach check brackenfall --expect scenes/brackenfall/expected.csv

pictures: $(READY)
	$(BIN)/reach check brackenfall --expect scenes/brackenfall/expected.csv --pictures out/pictures

test: $(READY) lint
	$(BIN)/python -m pytest -q -n 2 --dist loadfile

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(READY)
	$(BIN)/python -m benchmarks

soak: $(READY)
	$(BIN)/python -m benchmarks --long
	$(BIN)/python -m benchmarks.fuzz --seconds 7200 --keep tests/broken/spoilt
	$(BIN)/python -m benchmarks.twins --seconds 3600

$(READY): pyproject.toml constraints.txt
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev,step,report,web]'
	touch $(READY)

clean:
	rm -rf $(VENV) out build dist .pytest_cache .mypy_cache .ruff_cache
