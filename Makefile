# Everything runs in a private environment (.venv) made from the locked list.
PYTHON ?= python3.11
ifeq (,$(shell command -v $(PYTHON) 2>/dev/null))
PYTHON := python3
endif
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: demo test check lock clean

$(STAMP): requirements.lock pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "firstwash needs Python 3.11 or newer")'
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $@

demo: $(STAMP)
	$(BIN)/python tools/demo.py

test: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -q

lock:
	$(BIN)/pip-compile --quiet --extra dev --strip-extras --no-header --allow-unsafe --no-emit-index-url --no-emit-find-links --no-emit-trusted-host --generate-hashes --output-file requirements.lock pyproject.toml

clean:
	rm -rf $(VENV) out .pytest_cache .mypy_cache .ruff_cache
