# The studio's commands. `make help` lists them.

SHELL := /bin/bash
MAKEFLAGS += --no-print-directory
.DEFAULT_GOAL := help
CHECKS := check-style check-templates check-layers check-types check-migrations
PARTS := test-sqlite test-postgres test-browser
.PHONY: help demo run test check bench mutants $(CHECKS) $(PARTS)

# The system's Python, where it is new enough and whole: distributions compile it by what is measured of its use, and
# one compiled without that answers a quarter slower. Else the first in the path.
FIT := import ensurepip, sys, venv; sys.exit(sys.version_info < (3, 11))
PYTHON ?= $(shell /usr/bin/python3 -c '$(FIT)' 2>/dev/null && echo /usr/bin/python3 || echo python3)
BIN := .venv/bin
PIP := PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_ROOT_USER_ACTION=ignore $(BIN)/python -m pip install -qq
# The stamps say which packages are in .venv; they go with it.
RUNTIME := .venv/installed-runtime
TESTING := .venv/installed-tests
VAR := $(or $(STUDIO_VAR),$(CURDIR)/var)

help:
	@echo "make demo    set up and open a studio with a year of invented work in it (SERVE=no: do not open it)"
	@echo "make run     set up and open your own studio"
	@echo "make test    set up and run every check and every test"
	@echo "make check   only the checks: style, types, layers, migrations, templates"
	@echo "make mutants put small wrongs into the arithmetic and the postings, and say which no test notices"
	@echo "make bench   measure how fast the studio answers (YEARS=20: other books than fifty years)"
	@echo
	@echo "PORT=8001 chooses another port; DATABASE_URL=postgresql://... another database than the file in var/."

demo: export STUDIO_DB := $(VAR)/demo.sqlite3
demo: $(RUNTIME)
	@$(BIN)/python -m studio.prepare --demo
	@mkdir -p out
	@$(BIN)/python manage.py report cast-cost -o out/cast-cost.pdf
	@$(BIN)/python manage.py report metal-loss -o out/metal-loss.pdf
	@echo "Reports: out/cast-cost.pdf and out/metal-loss.pdf"
	@[ ! -f "$(VAR)/demo-sign-in.txt" ] || cat "$(VAR)/demo-sign-in.txt"
	@if [ "$(SERVE)" != no ]; then exec $(BIN)/python -m studio.serve; fi

run: $(RUNTIME)
	@$(BIN)/python -m studio.prepare
	@exec $(BIN)/python -m studio.serve

# All at once, and each says its own when it is done: the one that looks at types takes as long as the others together.
check: $(TESTING)
	@$(MAKE) -j --output-sync=target $(CHECKS)
	@echo "Style, types, layers, migrations and templates are in order."

check-style:
	@$(BIN)/ruff check --quiet .
	@$(BIN)/ruff format --check --quiet . || { echo "Some files are not laid out: run $(BIN)/ruff format"; exit 1; }
check-templates:
	@$(BIN)/djlint --lint --quiet templates
check-layers:
	@$(BIN)/lint-imports --no-logo > .venv/layers.txt || { cat .venv/layers.txt; exit 1; }
check-types:
	@$(BIN)/mypy --no-error-summary
check-migrations:
	@DATABASE_URL=sqlite://:memory: $(BIN)/python manage.py makemigrations --check --dry-run --verbosity 1 \
		> .venv/migrations.txt || { cat .venv/migrations.txt; exit 1; }

# One run on SQLite, then queries, postings and reports again on PostgreSQL with all that needs its server, then the
# browser by itself, so that the other tests do not slow it down. The databases that they copy are made once for all.
test: export STUDIO_TESTS := all
# Compiled modules are kept, or each of some hundred processes would compile the studio and its tests anew.
test: export PYTHONDONTWRITEBYTECODE :=
test: check
	@$(BIN)/python -m tests.tools
	@made=$$(mktemp -d) && trap 'rm -rf "$$made"' EXIT && STUDIO_TEST_MADE="$$made" $(MAKE) -j1 $(PARTS)

test-sqlite:
	env -u DATABASE_URL $(BIN)/pytest -q -n 2 --dist worksteal -m "not browser and not postgres"
test-postgres:
	$(BIN)/python -m tests.postgres_cluster $(BIN)/pytest -q -n 2 --dist worksteal --only-database
test-browser:
	env -u DATABASE_URL $(BIN)/pytest -q -n 2 --dist worksteal --reruns 1 -m browser tests/browser

bench: $(TESTING)
	@YEARS=$(YEARS) $(BIN)/python -m tests.bench

# Not a part of `make test`: it takes an hour. OF=inventory/core/metal.py COUNT=0 tries every wrong of one module.
mutants: $(TESTING)
	@env -u DATABASE_URL nice $(BIN)/python -m tests.mutation $(addprefix --of ,$(OF)) $(addprefix --count ,$(COUNT))

$(RUNTIME): requirements.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "The studio needs Python 3.11 or newer; PYTHON=/path/to/python3 names another one."; exit 1; }
	@[ -x $(BIN)/python ] || $(PYTHON) -m venv .venv || \
		{ rm -rf .venv; echo "Python's venv module is missing; on Debian: apt-get install python3-venv"; exit 1; }
	@echo "Installing the studio's packages in .venv"
	@$(PIP) -r requirements.txt
	@touch $@

$(TESTING): tests/requirements.txt $(RUNTIME)
	@echo "Installing the test tools in .venv"
	@$(PIP) -r tests/requirements.txt
	@touch $@
