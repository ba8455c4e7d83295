# What one can do here: `make help`. Everything needs Python 3.11 or newer with its venv module,
# and makes the virtual environment by itself. Another Python: `make demo PY=python3.13`.
PY ?= python3
VENV := .venv
AUDIT := .venv-audit
BIN := $(VENV)/bin
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DELETE_ON_ERROR:
.DEFAULT_GOAL := help
# Servers live in sbin, which is not on everybody's path.
export PATH := $(PATH):/usr/sbin:/sbin

BEGUN := $(shell date +%s)
took = @echo "make $@: $$(( $$(date +%s) - $(BEGUN) )) s"

.PHONY: help venv demo test check audit sbom bench bench-alarms bench-forecast bench-rating bench-stations \
	test-faults test-endurance pictures fix pins clean servers

help: ## list what one can do
	@sed -nE 's/^([a-z-]+):.*## (.*)/make \1\t\2/p' Makefile | expand -t 22

venv: $(VENV)/run.stamp ## make the environment that runs Noonpot, and nothing else
	@$(BIN)/python -m compileall -q daemon hardware

demo: $(VENV)/run.stamp ## watch a simulated day in this terminal
	@$(BIN)/noonpot demo
	$(took)

test: servers $(VENV)/test.stamp ## run all tests against the real broker and time-series server
	@$(BIN)/python -m compileall -q daemon hardware
	@PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest --quiet --durations=10 --numprocesses=3 --dist worksteal
	$(took)

test-faults: servers $(VENV)/test.stamp ## run the fault suites at full length, in half an hour, and print their figures
	@NOONPOT_FAULTS=full $(BIN)/python -m pytest --quiet -n0 tests/faults
	$(took)

test-endurance: servers $(VENV)/test.stamp ## kills, power cuts, bad cards, fuzzing, soaks and upgrades at full length, and print their figures
	@NOONPOT_ENDURANCE=full $(BIN)/python -m pytest --quiet -n0 tests/endurance tests/parcels tests/security \
		tests/notify/test_bridge.py tests/store/test_retention.py tests/store/test_drill.py tests/store/test_card_cost.py \
		tests/browser/test_cookers.py
	$(took)

check: $(VENV)/dev.stamp ## format, lint, types, direction of imports
	$(BIN)/ruff format --check
	$(BIN)/ruff check
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(took)

bench: servers $(VENV)/test.stamp ## measure every budget beside its floor, and write docs/benchmarks.md
	@PYTHONPATH=tests $(BIN)/python tests/bench/benchmarks.py
	$(took)

bench-stations: servers $(VENV)/test.stamp ## measure what 50 stations cost their broker, their list and a time-series server
	@PYTHONPATH=tests $(BIN)/python tests/bench/fleet_cost.py
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

audit: $(AUDIT)/audit.stamp ## look for known holes in what Noonpot runs on; needs the internet
	@$(AUDIT)/bin/pip-audit --requirement .pins/run.txt --require-hashes --disable-pip --strict --progress-spinner off || { \
		echo "The audit is not passed. Either a known hole is named above, or the advisories could not be had:"; \
		echo "it needs the internet, and passes only when every package of .pins/run.txt was looked up."; \
		exit 1; }
	$(took)

sbom: $(AUDIT)/audit.stamp ## list what is inside, with hashes, as CycloneDX
	@mkdir -p dist
	@PYTHONWARNINGS=ignore $(AUDIT)/bin/cyclonedx-py requirements .pins/run.txt --pyproject pyproject.toml --output-reproducible --of JSON -o dist/sbom.json
	@echo "dist/sbom.json: $$(grep -c '"purl"' dist/sbom.json) packages with their hashes, as CycloneDX"
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
	$(COMPILE) --group audit -c .pins/dev.txt -o .pins/audit.txt

clean: ## remove the virtual environment and all caches
	rm -rf $(VENV) $(AUDIT) daemon/noonpot/web/static/vendor tests/browser/vendor .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis dist
	find daemon hardware tests -name __pycache__ -prune -exec rm -rf {} +

# What looks at packages has packages of its own, which must not stand among those that are tested.
$(AUDIT)/audit.stamp: .pins/audit.txt
	@$(PY) -m venv --clear $(AUDIT)
	@$(AUDIT)/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: -r $<
	@touch $@

# What the environment holds depends on one pin file; shared files are copied into it.
$(VENV)/%.stamp: .pins/%.txt pyproject.toml $(wildcard daemon/hatch_build.py daemon/noonpot/__init__.py config/* systemd/*) | $(BIN)/pip
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
