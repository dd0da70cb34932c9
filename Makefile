# dialtrue: every target sets up what it needs; only python3 (3.11 or newer) with pip is taken for granted.
.DEFAULT_GOAL := help
SHELL := /bin/bash
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
ARGS ?=

.PHONY: help demo test check sweep docs bench format setup circuit clean

help: ## Print this menu
	@echo "dialtrue keeps every radio read of a pulse-output water meter true to the dial."
	@echo
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/  make \1|\2/p' $(MAKEFILE_LIST) | awk -F'|' '{printf "%-14s %s\n", $$1, $$2}'

demo: $(READY) ## Set up, invent a town, watch it, write a report you can open
	@$(BIN)/dialtrue demo $(ARGS)

test: $(READY) circuit ## Set up and run the tests
	@$(BIN)/pytest $(ARGS)

check: $(READY) circuit ## Everything CI runs, in CI's order
	@$(BIN)/python tools/check.py

sweep: $(READY) circuit ## Run the slow, wide tests whole
	@DIALTRUE_SWEEP=whole $(BIN)/pytest -m slow $(ARGS)

docs: $(READY) ## Write the generated pages and pictures again
	@$(BIN)/python tools/generate_reference.py
	@$(BIN)/python tools/make_pictures.py
	@$(BIN)/python tools/make_fit_pictures.py
	@$(BIN)/python tools/make_wiring_pictures.py
	@$(BIN)/python tools/make_sheet_pictures.py
	@$(BIN)/python tools/make_sample_pictures.py

bench: $(READY) ## Measure speed on this machine
	@for bench in benchmarks/bench_*.py; do echo "== $$bench"; $(BIN)/python $$bench || exit 1; done

format: $(READY) ## Lay the code out and mend what can be mended by itself
	@$(BIN)/ruff format . && $(BIN)/ruff check --fix .

setup: $(READY) ## Only set up

$(READY): pyproject.toml tools/setup.sh
	@PYTHON="$(PYTHON)" VENV="$(VENV)" bash tools/setup.sh
	@touch $(READY)

circuit: # the circuit simulator that some tests compare with; without it they are skipped and say so
	@bash tools/install_ngspice.sh

clean: ## Remove what was built; the demo town stays
	rm -rf $(VENV) dist build .pytest_cache .mypy_cache .ruff_cache .import_linter_cache
