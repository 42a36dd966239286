# Two commands on a fresh machine: `make demo` runs the main job, `make test` passes the tests.
PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/python -m pip install -q --disable-pip-version-check

.PHONY: demo test check bench docs lock clean

demo: .venv/.run
	$(BIN)/duskline demo demo

test: .venv/.dev
	$(BIN)/python -m pytest -q -n auto

check: .venv/.dev
	$(BIN)/ruff check src tests benchmarks tools
	$(BIN)/ruff format --check src tests benchmarks tools
	$(BIN)/mypy
	$(BIN)/lint-imports
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

# For maintainers: resolve again for all supported Pythons (needs uv on the PATH).
lock:
	uv lock -q
	uv export -q --format requirements-txt --no-emit-project --no-dev --no-header -o requirements/run.txt
	uv export -q --format requirements-txt --no-emit-project --only-dev --no-header -o requirements/dev.txt
	rm -f uv.lock

clean:
	rm -rf .venv demo .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
