# Two commands do all the set-up: `make demo` and `make test`. DEVELOPERS.md tells the rest.
PYTHON ?= python3
SERVE ?= 1
PY := .venv/bin/python
WORKERS ?= $(shell n=$$(nproc); echo $$((n > 8 ? 8 : n)))
TESTS ?=
PIP := -m pip --quiet --quiet --disable-pip-version-check # twice: what it says of its own set-up is no news here
INSTALL := $(PY) $(PIP) install --require-hashes
export PYTHON

.PHONY: demo run test test-moment test-database lint bench promises soak lock pictures clean

.venv/run: requirements.txt
	@.ci/system run
	@test -x $(PY) || $(PYTHON) -m venv .venv
	@echo "Installing the locked packages"
	@$(INSTALL) -r requirements.txt
	@echo "Installed"
	@touch $@

.venv/dev: requirements-dev.txt
	@.ci/system test
	@test -x $(PY) || $(PYTHON) -m venv .venv
	@echo "Installing the locked packages, with those the tests need"
	@$(INSTALL) -r requirements-dev.txt
	@echo "Installed"
	@touch $@ .venv/run

demo: .venv/run
	@.ci/system run
	@$(PY) manage.py demo --demo $(if $(filter 0,$(SERVE)),,--serve)

run: .venv/run
	@.ci/system run
	@$(PY) manage.py serve

lint: .venv/dev
	$(PY) -m ruff check .
	$(PY) -m ruff format --check .
	$(PY) -m mypy
	.venv/bin/lint-imports --no-cache
	$(PY) manage.py makemigrations --check --dry-run

test: .venv/dev
	@.ci/system test
	@$(MAKE) --no-print-directory lint
	$(PY) -m pytest -n $(WORKERS) --dist worksteal $(TESTS)

# The tests that lean on days, hours and the calendar, at TEST_MOMENT.
DATED = $(addprefix tests/shop/,business/test_keeping.py web/test_login.py) \
  $(addprefix tests/inventory/,stock/test_books.py stock/test_prices.py stock/test_shelf_life.py \
  buying/test_planning.py buying/test_planning_pages.py) \
  $(addprefix tests/quotes/bench/test_,aftercare.py day.py odd_days.py rack.py reserving.py told_doses.py) \
  tests/quotes/quoting/test_takein.py
test-moment: .venv/dev
	$(PY) -m pytest -n $(WORKERS) --dist worksteal -m "not slow" $(DATED) $(TESTS)

# The tests that lean on the database: locks, exact sums, kept books, whole jobs, every page once, what an update brings.
KEPT = tests/updates tests/test_walk.py \
  $(addprefix tests/shop/,platform/test_backup.py platform/test_restore_killed.py business/test_keeping.py web/test_what_comes_in.py) \
  $(addprefix tests/inventory/stock/test_,any_order.py at_once.py books.py kill.py ledger.py load.py) \
  tests/inventory/counting/test_not_counted.py \
  $(addprefix tests/quotes/,billing/test_billing.py billing/test_books.py lookback/test_past.py \
  quoting/test_choices.py quoting/test_sending_at_once.py) \
  $(addprefix tests/quotes/bench/test_,bench.py make_one.py one_bench.py reserving.py standing.py)
test-database: .venv/dev
	$(PY) -m pytest -n $(WORKERS) --dist worksteal $(KEPT)

bench: .venv/dev
	$(PY) -m tests.tools.bench

promises: .venv/dev
	$(PY) -m tests.planner.shops

# 50 people for a minute and ten kills, each followed by check_books; on PostgreSQL too where DATABASE_URL names one.
SOAK = LOAD_PEOPLE=50 LOAD_SECONDS=60 KILLS=10 $(PY) -m pytest -p no:randomly -v -s tests/inventory/stock/test_load.py tests/inventory/stock/test_kill.py

soak: .venv/dev
	env -u DATABASE_URL $(SOAK)
	$(if $(DATABASE_URL),$(SOAK))

# A new lock: on Python 3.11, so that every machine from Debian 12 on can install it.
lock:
	python3.11 -m venv .venv-lock && .venv-lock/bin/python $(PIP) install pip-tools
	.venv-lock/bin/pip-compile --quiet --generate-hashes --strip-extras --allow-unsafe \
	  --no-emit-index-url --no-emit-find-links --no-emit-trusted-host -o requirements.txt pyproject.toml
	.venv-lock/bin/pip-compile --quiet --generate-hashes --strip-extras --allow-unsafe \
	  --no-emit-index-url --no-emit-find-links --no-emit-trusted-host --extra dev -c requirements.txt \
	  -o requirements-dev.txt pyproject.toml
	rm -rf .venv-lock

pictures: .venv/dev
	$(PY) -m tests.tools.pictures

clean:
	rm -rf .venv out .pytest_cache .mypy_cache .ruff_cache .hypothesis
