# Stripecoat: `make demo` shows it, `make test` proves it, `make help` lists the rest.

PYTHON ?= python3.11
VENV ?= .venv
# Apart from the one that the site runs from, so that no package of developers' changes how it behaves.
DEV_VENV ?= .venv-dev
PORT ?= 8000
DEMO_SERVE ?= 1
VAR_DIR ?= $(CURDIR)/var

BIN := $(VENV)/bin
DEV_BIN := $(DEV_VENV)/bin
MANAGE := $(BIN)/python manage.py
INSTALL := -m pip install --quiet --no-input --disable-pip-version-check --require-hashes
# What tells that the locked packages are in; a lock that changed is newer and installs again.
RUNTIME := $(VENV)/runtime-installed
DEV := $(DEV_VENV)/dev-installed
KEY := $(VAR_DIR)/secret-key

.DEFAULT_GOAL := help
.PHONY: help demo serve ready test orders check pictures bench lock

help: ## What there is
	@grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed 's/:.*## /|/' | awk -F'|' '{printf "  make %-8s %s\n", $$1, $$2}'

demo: ready ## Play the demo scenario and serve the site on PORT (8000); DEMO_SERVE=0 stops after the summary
	@$(MANAGE) demo
	@[ "$(DEMO_SERVE)" = 0 ] || exec $(MANAGE) serve --port $(PORT)

serve: ready ## Serve the site with worker and scheduler, without the demo
	@$(MANAGE) serve --port $(PORT)

ready: $(RUNTIME) $(KEY)
	@[ "$(DEMO_SERVE)" = 0 ] || $(MANAGE) serve --check --port $(PORT)
	@$(MANAGE) migrate --verbosity 0
	@$(MANAGE) collectstatic --no-input --verbosity 0

test: $(DEV) ## The whole suite: SQLite, PostgreSQL with Redis, and Chromium
	@$(DEV_BIN)/python -m tests.run_suite

orders: $(DEV) ## Facts arriving in every order, thousands of them, on SQLite and PostgreSQL
	@$(DEV_BIN)/python -m tests.run_suite orders orders-postgresql

check: $(DEV) ## Only what needs no test run: ruff, mypy, the house's arrows, migrations
	@$(DEV_BIN)/python -m tests.run_suite check

pictures: $(DEV) ## The README's four pictures, taken again from the demo (Chromium)
	@$(DEV_BIN)/python -m tests.pictures

bench: $(DEV) ## Speed as ratios, measured in one run
	@$(DEV_BIN)/python -m tests.bench

lock: $(DEV) ## Pin all dependencies again, with hashes (UPGRADE=--upgrade takes newer releases)
	@$(DEV_BIN)/uv pip compile $(UPGRADE) $(LOCK) pyproject.toml -o requirements.lock
	@$(DEV_BIN)/uv pip compile $(UPGRADE) $(LOCK) pyproject.toml --extra dev -c requirements.lock -o requirements-dev.lock

# No index address in the lock: whoever installs uses the index their own pip is set to.
LOCK := --quiet --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate

demo serve ready: export VAR_DIR := $(VAR_DIR)
demo serve ready: export SECRET_KEY_FILE := $(KEY)
demo serve ready: export SITE_URL := http://localhost:$(PORT)
# One machine talking to itself needs no TLS.
demo serve ready: export PLAIN_HTTP := 1

$(KEY):
	@mkdir -p $(VAR_DIR)
	@umask 077 && $(PYTHON) -c 'import secrets; print(secrets.token_urlsafe(64))' > $@

$(BIN)/python $(DEV_BIN)/python:
	@command -v $(PYTHON) > /dev/null || { echo "Python 3.11 is needed: install python3.11 and python3.11-venv, or name yours with PYTHON=."; exit 1; }
	@$(PYTHON) -m venv $(@D)/..

$(RUNTIME): requirements.lock | $(BIN)/python
	@echo "Installing the locked packages (about half a minute, the first time) …"
	@$(BIN)/python $(INSTALL) -r requirements.lock
	@touch $@

$(DEV): requirements-dev.lock | $(DEV_BIN)/python
	@echo "Installing the locked packages (about a minute, the first time) …"
	@$(DEV_BIN)/python $(INSTALL) -r requirements-dev.lock
	@touch $@
