# Everything that sets up, starts, tests and measures the project. `make run` is all a newcomer needs.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
DEMO ?= demo_data
# Programs that tests make are thrown away: they lie in memory where it has room, since each commit waits for a disk.
IN_MEMORY := $(shell test -d /dev/shm && test "$$(df -Pk /dev/shm | awk 'END { print $$4 }')" -gt 6000000 && echo TMPDIR=/dev/shm)
PORT ?= 8080

.DELETE_ON_ERROR:
.PHONY: run test lint pictures bench engines soak mutants clean

# The stamp files are newer than pyproject.toml once what it names is installed, so a second call installs nothing.
$(VENV)/installed: pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Python 3.11 or newer is needed; PYTHON=... names another one: make PYTHON=python3.12 run" >&2; exit 1; }
	@echo "Setting up in $(VENV) (once; about a minute) ..."
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV) || \
	  { echo "Debian needs its package for virtual environments: apt-get install python3-venv" >&2; exit 1; }
	@$(BIN)/python -m pip install --progress-bar off -e . | grep -E '^(Collecting|Installing|Successfully|ERROR)' || true
	@$(BIN)/python -c 'import fieldlog.__main__'
	@touch $@

$(VENV)/tests-installed: pyproject.toml $(VENV)/installed
	@echo "Adding what the tests need ..."
	@$(BIN)/python -m pip install --progress-bar off -e '.[test]' | grep -E '^(Collecting|Installing|Successfully|ERROR)' || true
	@$(BIN)/python -c 'import pytest, playwright, hypothesis, xdist'
	@touch $@

$(VENV)/browser: $(VENV)/tests-installed tests/find_chromium.py
	@$(BIN)/python tests/find_chromium.py
	@touch $@

run: $(VENV)/installed
	@$(BIN)/python -m fieldlog --data $(DEMO) demo --port $(PORT)

# Three files at a time, since browsers wait as much as they work, the browser's long ones early on; what measures time comes after them, alone.
test: $(VENV)/browser
	@echo "Running every test, three files at a time ..."
	@$(IN_MEMORY) $(BIN)/python -m pytest -n 3 --dist loadfile --no-loadscope-reorder -m "not alone and not long and not engines"
	@echo "Running the tests that measure time, alone ..."
	@$(IN_MEMORY) $(BIN)/python -m pytest -m "alone and not long"

lint: $(VENV)/tests-installed
	@echo "ruff ..." && $(BIN)/ruff check .
	@echo "mypy ..." && $(BIN)/mypy
	@if command -v npm >/dev/null 2>&1; then $(MAKE) --no-print-directory lint-js; \
	  else echo "Node is not here: the JavaScript is not checked (tsc, ESLint)."; fi

.PHONY: lint-js
lint-js: tests/node/node_modules/.installed
	@echo "tsc ..." && cd tests/node && npx --no-install tsc -p .
	@echo "eslint ..." && tests/node/node_modules/.bin/eslint --config tests/node/eslint.config.js static

tests/node/node_modules/.installed: tests/node/package.json tests/node/package-lock.json
	@echo "Installing the JavaScript checkers in tests/node ..."
	@cd tests/node && npm ci --no-audit --no-fund --loglevel=error
	@touch $@

pictures: $(VENV)/browser
	@$(BIN)/python tests/pictures/take_pictures.py

bench: $(VENV)/browser
	@$(BIN)/python tests/bench/bench.py

engines: $(VENV)/browser
	@$(BIN)/python tests/engines/installing.py
	@echo "The main day in Chromium, Firefox and WebKitGTK ..."
	@$(IN_MEMORY) $(BIN)/python -m pytest -v tests/engines

.PHONY: lighthouse
lighthouse: $(VENV)/browser tests/lighthouse/node_modules/.installed
	@echo "The first visit, five times, as Lighthouse sees it on a phone ..."
	@$(BIN)/python tests/lighthouse/measure.py

tests/lighthouse/node_modules/.installed: tests/lighthouse/package.json tests/lighthouse/package-lock.json
	@echo "Installing Lighthouse in tests/lighthouse ..."
	@cd tests/lighthouse && npm ci --no-audit --no-fund --loglevel=error
	@touch $@

soak: $(VENV)/browser
	@echo "100,000 storms and 5,000 with hostile devices (about an hour), then the storms against faults planted on purpose ..."
	@$(IN_MEMORY) $(BIN)/python -m pytest -q -n 2 --dist load -m long
	@FIELDLOG_STORMS=100000 $(BIN)/python -m pytest -q -n 2 --dist load tests/sync/test_storm.py
	@FIELDLOG_IMPORT_STORMS=3000 $(BIN)/python -m pytest -q tests/sync/test_import_storm.py
	@FIELDLOG_WATCHED_STORMS=5000 $(BIN)/python -m pytest -q -n 2 --dist load tests/sync/test_watched_storm.py
	@$(BIN)/python tests/sync/seeded_faults.py
	@echo "Allowances of 160 ports with made weather, each on the year after its record; intervals of inferred constants ..."
	@FIELDLOG_PORTS=160 FIELDLOG_SEEDS=400 $(BIN)/python -m pytest -q -n 2 tests/tides/test_allowance.py tests/tides/test_inference.py
	@echo "10,000 requests drawn from the OpenAPI document ..."
	@FIELDLOG_REQUESTS=10000 $(BIN)/python -m pytest -q tests/web/test_openapi_requests.py
	@echo "The printed systemd unit and Caddy lines, for real ..."
	@command -v caddy >/dev/null && command -v systemd-analyze >/dev/null || apt-get install -y -q caddy systemd || \
	  { echo "Debian's caddy and systemd are needed: apt-get install caddy systemd" >&2; exit 1; }
	@$(BIN)/python -m tests.web.soak_service
	@echo "Intervals over 2,000 made sites a row, each held to its bar as it stands ..."
	@FIELDLOG_MADE_SITES=2000 $(BIN)/python -m pytest -q -n 2 --dist load tests/outcomes
	@echo "300 made seasons of surveys, 1,500 shifts of each size (about ten minutes) ..."
	@FIELDLOG_SEASONS=300 $(BIN)/python -m pytest -q -n 2 --dist load tests/survey/test_season.py
	@echo "500 slow visitors and 300 idle ones, three minutes ..."
	@FIELDLOG_CROWD_S=60 $(BIN)/python -m pytest -q -s tests/web/test_connections.py
	@echo "A browser that is killed while it saves, sends and is updated, 60 times ..."
	@FIELDLOG_KILLS=30 $(BIN)/python -m pytest -q tests/phone/test_killed.py
	@echo "The server killed 200 times, also in a backup, a replay, a confirmation and a restore, disks that fail, clocks that jump, and a replica in a folder and in a bucket ..."
	@FIELDLOG_KILLS=200 $(BIN)/python -m pytest -q tests/soak tests/soak/beside_soak.py tests/backup/test_killed_at_each_step.py
	@$(BIN)/python -m pip install --progress-bar off -q -e '.[test,soak]'
	@$(BIN)/python -m pytest -q tests/soak/bucket_soak.py

mutants: $(VENV)/browser
	@echo "400 small faults drawn from the Python and those planted in the JavaScript, each against its tests ..."
	@$(BIN)/python tests/mutants/run.py

clean:
	rm -rf $(VENV) tests/node/node_modules tests/lighthouse/node_modules .pytest_cache .ruff_cache .mypy_cache .hypothesis build dist
