# What one can do here: `make help`. Everything needs Python 3.11 or newer with its venv module,
# and makes the virtual environment by itself. Another Python: `make demo PY=python3.13`.
PY ?= python3
VENV := .venv
BIN := $(VENV)/bin
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DELETE_ON_ERROR:
.DEFAULT_GOAL := help
# Servers live in sbin, which is not on everybody's path.
export PATH := $(PATH):/usr/sbin:/sbin

BEGUN := $(shell date +%s)
took = @echo "make $@: $$(( $$(date +%s) - $(BEGUN) )) s"

.PHONY: help venv demo test check bench bench-alarms bench-forecast bench-rating test-faults pictures fix pins clean servers

help: ## list what one can do
	@sed -nE 's/^([a-z-]+):.*## (.*)/make \1\t\2/p' Makefile | expand -t 22

venv: $(VENV)/run.stamp ## make the environment that runs Noonpot, and nothing else
	@$(BIN)/python -m compileall -q daemon hardware

demo: $(VENV)/run.stamp ## watch a simulated day in this terminal
	@$(BIN)/noonpot demo
	$(took)

test: servers $(VENV)/test.stamp ## run all tests against the real broker and time-series server
	@$(BIN)/python -m pytest --quiet --durations=10 --numprocesses=3
	$(took)

test-faults: servers $(VENV)/test.stamp ## run the fault suites at full length, in half an hour, and print their figures
	@NOONPOT_FAULTS=full $(BIN)/python -m pytest --quiet -n0 tests/faults
	$(took)

check: $(VENV)/dev.stamp ## format, lint, types, direction of imports
	$(BIN)/ruff format --check
	$(BIN)/ruff check
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(took)

bench: servers $(VENV)/test.stamp ## measure memory, processor, latency and disk of the running daemon and its page
	@PYTHONPATH=tests $(BIN)/python tests/bench/daemon_cost.py
	@PYTHONPATH=tests $(BIN)/python tests/bench/store_size.py
	@PYTHONPATH=tests $(BIN)/python tests/bench/backup_cost.py
	@PYTHONPATH=tests $(BIN)/python tests/bench/page_cost.py
	@PYTHONPATH=tests $(BIN)/python tests/bench/page_view.py
	$(took)

bench-alarms: $(VENV)/test.stamp ## live through a week of simulated cooks with faults, and see what is told
	@OPENBLAS_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python tests/bench/week.py
	$(took)

bench-forecast: $(VENV)/test.stamp ## hold the forecast against simple rivals in two kitchens under measured skies
	@OPENBLAS_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python tests/bench/forecast_bench.py
	$(took)

bench-rating: $(VENV)/test.stamp ## find known cookers again from their cooks, and hold the table of foods against what happens
	@OPENBLAS_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python tests/bench/rating_bench.py
	@OPENBLAS_NUM_THREADS=1 PYTHONPATH=tests $(BIN)/python tests/bench/season_bench.py
	$(took)

pictures: servers $(VENV)/test.stamp ## draw the pictures of the documentation anew
	@PYTHONPATH=tests $(BIN)/python tests/pictures.py docs
	$(took)

fix: $(VENV)/dev.stamp ## let the formatter and the linter mend what they can
	$(BIN)/ruff check --fix
	$(BIN)/ruff format

# One set of versions for all three files: the largest is made first and binds the others.
# The versions written there stay unless they must change; `make pins NEWER=1` takes newer ones.
COMPILE = UV_PYTHON_DOWNLOADS=never $(BIN)/uv pip compile pyproject.toml --quiet $(if $(NEWER),--upgrade) \
	--universal --python-version 3.11 --fork-strategy fewest --generate-hashes --no-annotate \
	--no-strip-extras --no-emit-index-url --no-emit-find-links --custom-compile-command "make pins"

pins: $(VENV)/dev.stamp ## write the hash-pinned requirement files anew
	$(COMPILE) --group build --extra influx --extra pictures --extra push --extra signals --group test --group dev -o .pins/dev.txt
	$(COMPILE) --group build --extra influx --extra pictures --extra push --extra signals --group test -c .pins/dev.txt -o .pins/test.txt
	$(COMPILE) --group build --extra influx --extra pictures --extra push --extra signals -c .pins/dev.txt -o .pins/run.txt

clean: ## remove the virtual environment and all caches
	rm -rf $(VENV) daemon/noonpot/web/static/vendor tests/browser/vendor .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis dist
	find daemon hardware tests -name __pycache__ -prune -exec rm -rf {} +

# What the environment holds depends on one pin file; shared files are copied into it.
$(VENV)/%.stamp: .pins/%.txt pyproject.toml $(wildcard daemon/hatch_build.py config/* systemd/*) | $(BIN)/pip
	@echo "installing .pins/$*.txt into $(VENV)"
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: -r $<
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@

$(BIN)/pip:
	@$(PY) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
		echo "Noonpot needs Python 3.11 or newer, and '$(PY)' is not that. Name another: make $(MAKECMDGOALS) PY=python3.13"; \
		exit 1; }
	@$(PY) -c 'import ensurepip, venv' 2>/dev/null || { \
		echo "Python cannot make virtual environments here yet. Please install the missing part, then try again:"; \
		echo "    sudo apt install python3-venv"; \
		exit 1; }
	@$(PY) -m venv $(VENV)

servers:
	@missing=; \
	command -v mosquitto >/dev/null || missing+=" mosquitto"; \
	command -v victoria-metrics >/dev/null || missing+=" victoria-metrics"; \
	command -v systemd-analyze >/dev/null || missing+=" systemd"; \
	command -v openssl >/dev/null || missing+=" openssl"; \
	command -v chromium >/dev/null || missing+=" chromium"; \
	if [ -z "$$missing" ]; then exit 0; fi; \
	if [ "$$(id -u)" -ne 0 ]; then \
		echo "The tests use programs that are not installed here. Please install them, then try again:"; \
		echo "    sudo apt install$$missing"; \
		exit 1; fi; \
	echo "installing$$missing"; \
	export DEBIAN_FRONTEND=noninteractive; \
	apt-get update -qq; \
	apt-get install -y -qq --no-install-recommends $$missing
