# `make help` lists the targets. All of them work on a bare machine: they make .venv themselves.

PYTHON ?= python3
PORT ?= 8787
WORKERS ?= auto

VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --quiet --disable-pip-version-check --constraint requirements.lock
INPUTS := pyproject.toml requirements.lock
CODE := src tests scripts benchmarks

.DEFAULT_GOAL := help
.PHONY: help demo test trials plans safe bench check format guide docs lock clean

help: ## list the targets
	@grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z]+):.*## /  make \1\t/' | expand -t 16

demo: $(VENV)/.runs ## serve the demo shop on 127.0.0.1; PORT=9000 changes the port
	@$(BIN)/python scripts/stale_kernels.py --compile
	@$(BIN)/backprobe demo --port $(PORT)

test: $(VENV)/.develops ## install what the tests need and run them all
	@$(BIN)/python scripts/system_tools.py
	@$(BIN)/python scripts/stale_kernels.py --compile
	@$(BIN)/python -m pytest --numprocesses $(WORKERS) --dist loadfile $(ARGS)

trials: $(VENV)/.develops ## work hidden defects to their end, into docs/accuracy.md; ARGS="--jobs 40 --minutes 60"
	@OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 PYTHONPATH=tests:benchmarks $(BIN)/python -m trials $(ARGS)

plans: $(VENV)/.develops ## compare the planner with exact search on random jobs; ARGS="--jobs 100"
	@OPENBLAS_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python benchmarks/plans.py $(ARGS)

safe: $(VENV)/.develops ## judge what may be proposed in random job states; ARGS="--states 500"
	@OPENBLAS_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python benchmarks/safe.py $(ARGS)

bench: $(VENV)/.develops ## measure speed and accuracy into docs/performance.md; ARGS="--sizes 100,400"
	@OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python benchmarks/bench.py $(ARGS)

check: $(VENV)/.develops ## format, lint, types, import contracts, docs up to date
	$(BIN)/ruff format --check --quiet $(CODE)
	$(BIN)/ruff check --quiet $(CODE)
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo
	$(BIN)/python scripts/make_docs.py --check

format: $(VENV)/.develops ## format the code and mend what lint can mend
	$(BIN)/ruff format $(CODE)
	$(BIN)/ruff check --fix $(CODE)

guide: $(VENV)/.develops ## take the pictures of docs/guide.md again, from the running app
	@$(BIN)/python -m pytest -q tests/web/test_web_walks.py -k phone
	@$(BIN)/python scripts/guide_pictures.py

docs: $(VENV)/.develops ## write the generated pages of the manual again
	$(BIN)/python scripts/make_docs.py

lock: ## write requirements.lock again, with the newest releases pyproject.toml allows
	$(PYTHON) scripts/lock.py

clean: ## remove .venv and all caches
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis build dist

$(BIN)/python:
	@$(PYTHON) -c 'import sys; v = sys.version_info; sys.exit(v < (3, 11) and f"Backprobe needs Python 3.11 or newer; {sys.executable} is {v[0]}.{v[1]}. Say which to use: make PYTHON=python3.12 ...")'
	@$(PYTHON) -m venv $(VENV) || { rm -rf $(VENV); echo "Python could not make $(VENV). On Debian and Ubuntu: apt install python3-venv"; exit 1; }

$(VENV)/.runs: $(INPUTS) | $(BIN)/python
	@echo "installing Backprobe into $(VENV) (once)"
	@$(PIP) --editable .
	@touch $@

$(VENV)/.develops: $(INPUTS) | $(BIN)/python
	@echo "installing Backprobe and what its tests need into $(VENV) (once)"
	@$(PIP) --editable '.[test,dev]'
	@touch $@ $(VENV)/.runs
