# Everything runs in a private environment (.venv) made from the locked list.
PYTHON ?= python3.11
ifeq (,$(shell command -v $(PYTHON) 2>/dev/null))
PYTHON := python3
endif
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
NODE_STAMP := node_modules/.installed
FONTS := src/firstwash/web/static/fonts

.PHONY: demo open test check lock clean fonts chromium

$(STAMP): requirements.lock pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "firstwash needs Python 3.11 or newer")'
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $@
	@$(BIN)/python tools/place_fonts.py

# Node and npm come with the environment, the rest from package-lock.json; the painter needs neither.
$(NODE_STAMP): package.json package-lock.json | $(STAMP)
	@$(BIN)/npm ci --ignore-scripts --no-audit --no-fund --loglevel=error || \
	  { echo "The page is checked with packages from npm: connect to it, then try again." >&2; exit 1; }
	@touch $@

# The page's typeface, asked for again where npm could not be reached at the first time.
fonts: $(STAMP)
	@$(BIN)/python tools/place_fonts.py

# The page is tested in Debian's Chromium.
chromium:
	@.ci/chromium

demo: $(STAMP)
	$(BIN)/python tools/demo.py

open: $(STAMP)
	$(BIN)/firstwash open

test: $(STAMP) chromium $(NODE_STAMP)
	@$(BIN)/python tools/place_fonts.py
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/node node_modules/typescript/bin/tsc --noEmit -p tsconfig.json
	$(BIN)/python -m pytest -q -n 2 --dist loadfile --ignore=tests/web
	$(BIN)/python -m pytest -q tests/web

lock:
	$(BIN)/pip-compile --quiet --extra dev --strip-extras --no-header --allow-unsafe --no-emit-index-url --no-emit-find-links --no-emit-trusted-host --generate-hashes --output-file requirements.lock pyproject.toml
	$(BIN)/npm install --package-lock-only --ignore-scripts --no-audit --no-fund --omit-lockfile-registry-resolved --loglevel=error
	$(BIN)/node -e 'const fs = require("fs"), f = "package-lock.json", lock = JSON.parse(fs.readFileSync(f)); for (const entry of Object.values(lock.packages)) delete entry.funding; fs.writeFileSync(f, JSON.stringify(lock, null, 2) + "\n")'

clean:
	rm -rf $(VENV) node_modules $(FONTS) out .pytest_cache .mypy_cache .ruff_cache
