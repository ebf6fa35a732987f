# Two commands do all the set-up: `make demo` and `make test`. DEVELOPERS.md tells the rest.
PYTHON ?= python3
SERVE ?= 1
PY := .venv/bin/python
WORKERS ?= 2
TESTS ?=
PIP := -m pip --quiet --quiet --disable-pip-version-check # twice: what it says of its own set-up is no news here
INSTALL := $(PY) $(PIP) install --require-hashes
export PYTHON

.PHONY: demo run test test-moment lint bench soak lock pictures clean

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
	$(PY) -m pytest -n $(WORKERS) $(TESTS)

# The fast part at TEST_MOMENT: the tests that lean on days, hours and the calendar most.
DATED = $(addprefix tests/shop/test_,keeping.py setup.py login.py people.py) \
  $(addprefix tests/inventory/test_,books.py buying.py counting.py deliveries.py ledger.py not_counted.py planning.py \
  planning_pages.py prices.py shelf_life.py) \
  $(addprefix tests/quotes/test_,aftercare.py bench.py billing.py choices.py day.py odd_days.py quoting.py rack.py \
  reserving.py takein.py told_doses.py)
test-moment: .venv/dev
	$(PY) -m pytest -n $(WORKERS) -m "not slow" $(DATED) $(TESTS)

bench: .venv/dev
	$(PY) -m tests.bench

# 50 people for a minute and ten kills, each followed by check_books; on PostgreSQL too where DATABASE_URL names one.
SOAK = LOAD_PEOPLE=50 LOAD_SECONDS=60 KILLS=10 $(PY) -m pytest -p no:randomly -v -s tests/inventory/test_load.py tests/inventory/test_kill.py

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
	$(PY) -m tests.pictures

clean:
	rm -rf .venv out .pytest_cache .mypy_cache .ruff_cache .hypothesis
