# The two commands a newcomer needs are `make run` and `make test`; the rest is for those who build Doorwright.

PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV   := .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check --quiet
SAMPLE := 300
SEED   := 1
RUNS   := 200000

.PHONY: run test lint format docs reference bench mutate fuzz lock clean

run: $(VENV)/run.stamp  ## plan, check and print the invented medium building
	$(BIN)/doorwright demo --out build/demo

test: $(VENV)/test.stamp  ## everything that must hold before a change lands
	$(MAKE) --no-print-directory lint
	$(BIN)/python -m pytest -n 2 --cov --cov-report= --ignore=tests/browser
	$(BIN)/python -m pytest -n 2 --cov --cov-append --cov-report=term:skip-covered tests/browser # its driver keeps an event loop
	$(MAKE) --no-print-directory docs

lint: $(VENV)/test.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo

format: $(VENV)/test.stamp
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

reference: $(VENV)/test.stamp  ## write docs/reference from the code
	$(BIN)/python docs/generate.py

docs: $(VENV)/test.stamp  ## build the documentation; a warning is an error
	$(BIN)/python docs/generate.py --check
	$(BIN)/python -m sphinx --fail-on-warning --keep-going -q -b html docs build/docs

bench: $(VENV)/test.stamp
	$(BIN)/python -m bench

mutate: $(VENV)/mutate.stamp  ## change calc in small ways, count what its tests notice (SAMPLE=all for all, SEED=2)
	$(BIN)/python -m tests.mutation --sample $(SAMPLE) --seed $(SEED)

fuzz: $(VENV)/fuzz.stamp  ## throw bytes at the SIP message reader (RUNS=1000000 for more)
	mkdir -p build/fuzz
	$(BIN)/python -m tests.fuzz.sip_message -runs=$(RUNS) -max_len=4096 -artifact_prefix=build/fuzz/

lock:  ## renew the hash-locked requirements (needs uv)
	uv pip compile -q requirements/build.in --generate-hashes --no-emit-index-url --universal --python-version 3.11 --no-header -o requirements/build.txt
	uv pip compile -q pyproject.toml --generate-hashes --no-emit-index-url --universal --python-version 3.11 --no-header -o requirements/run.txt
	uv pip compile -q pyproject.toml --extra test --extra docs --generate-hashes --no-emit-index-url --universal --python-version 3.11 --no-header -o requirements/test.txt
	uv pip compile -q requirements/mutate.in -c requirements/test.txt --generate-hashes --no-emit-index-url --universal --python-version 3.11 --no-header -o requirements/mutate.txt
	uv pip compile -q requirements/fuzz.in --generate-hashes --no-emit-index-url --universal --python-version 3.11 --no-header -o requirements/fuzz.txt

clean:
	rm -rf $(VENV) build dist docs/_build

$(VENV)/python.stamp:
	$(PYTHON) -m venv $(VENV)
	touch $@

$(VENV)/run.stamp: $(VENV)/python.stamp requirements/run.txt requirements/build.txt pyproject.toml
	$(PIP) install --require-hashes -r requirements/run.txt -r requirements/build.txt
	$(PIP) install --no-deps --no-build-isolation --editable .
	touch $@

$(VENV)/test.stamp: $(VENV)/run.stamp requirements/test.txt
	$(PIP) install --require-hashes -r requirements/test.txt
	touch $@

$(VENV)/mutate.stamp: $(VENV)/test.stamp requirements/mutate.txt
	$(PIP) install --require-hashes -r requirements/mutate.txt
	touch $@

$(VENV)/fuzz.stamp: $(VENV)/test.stamp requirements/fuzz.txt
	$(PIP) install --require-hashes -r requirements/fuzz.txt
	touch $@
