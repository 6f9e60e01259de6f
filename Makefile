# Everything runs in .venv, made from requirements.lock; only Python >= 3.11 and make are needed.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.ready

.PHONY: demo test lint bench campaign mutants notes fuzz clean

$(STAMP): requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "sunhob needs Python >= 3.11; set PYTHON=/path/to/one"; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $(STAMP)

demo: $(STAMP)
	$(BIN)/sunhob demo

test: $(STAMP)
	$(BIN)/pytest -n 2

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python tests/board_types.py

bench: $(STAMP)
	$(BIN)/python tests/benchmark.py $(BENCH)

campaign: $(STAMP)
	$(BIN)/sunhob bench campaign $(CAMPAIGN)

mutants: $(STAMP)
	$(BIN)/python tests/mutants.py

notes: $(STAMP)
	$(BIN)/python -m sunhob.notes hardware_notes

# FULL=--full for a million lines
fuzz: $(STAMP)
	PYTHONPATH=. $(BIN)/python tests/fuzz_link.py $(FULL)

clean:
	rm -rf $(VENV) out build dist
