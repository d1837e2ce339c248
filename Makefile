# make demo, make test and make check work on a fresh machine with Python >= 3.11 and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/pip --disable-pip-version-check --quiet install

.PHONY: demo test check bench formulae lock clean

demo: $(VENV)/app
	$(BIN)/labsys demo --out demo_output

test: $(VENV)/dev
	$(BIN)/pytest --numprocesses 2 --dist worksteal

check: $(VENV)/dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/djlint templates --lint --quiet
	$(MAKE) test

# A lab after three months and after ten years, against bare pages (benchmarks/README.md).
bench: $(VENV)/dev
	$(BIN)/python -m benchmarks

# The page of all calculations and their sources, from the code.
formulae: $(VENV)/dev
	$(BIN)/python docs/make_formulae.py

# What the application needs, from the lock file.
$(VENV)/app: requirements.lock pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(PIP) --require-hashes --requirement requirements.lock
	$(PIP) --no-deps --no-build-isolation --editable .
	touch $@

# What the tests and lints need besides.
$(VENV)/dev: requirements-dev.lock pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(PIP) --require-hashes --requirement requirements-dev.lock
	$(PIP) --no-deps --no-build-isolation --editable .
	touch $@ $(VENV)/app

# Choose versions anew after a change of dependencies in pyproject.toml (needs uv).
lock:
	uv pip compile pyproject.toml --extra postgresql --extra build --generate-hashes --universal --no-header --quiet --output-file requirements.lock
	uv pip compile pyproject.toml --extra postgresql --extra build --extra dev --generate-hashes --universal --no-header --quiet --output-file requirements-dev.lock

clean:
	rm -rf $(VENV) demo_output build dist
