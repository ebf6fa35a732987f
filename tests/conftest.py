"""The shop that tests stand in, with one person of each role; its rates and materials are those of `sample_shop`."""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import uuid
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # browser tests ask rows beside a running page

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.contrib.auth.signals import user_logged_in
from django.db import transaction
from django.test import Client, override_settings
from hypothesis import settings as hypothesis_settings

from shop.models import Profile, Role, User
from shop.papers import paper

# Every test begins at this moment, whatever the machine's clock says; TEST_MOMENT names another one, in ISO 8601 with
# its zone. Rows of tests are made at and around it, so a test never writes a date where it means "today".
NOW = datetime.fromisoformat(os.environ.get("TEST_MOMENT", "2026-11-25T09:00+00:00")).astimezone(UTC)
TODAY = NOW.astimezone(ZoneInfo("Europe/Dublin")).date()  # the shop's day
CALENDARS_DAY = date(2026, 11, 25)  # a Wednesday
PASSWORD = "a long enough password"

# No test is timed: the machine may be busy. CI draws the same examples each time, people's machines new ones.
hypothesis_settings.register_profile("house", deadline=None, derandomize=os.environ.get("CI") == "true")
hypothesis_settings.load_profile("house")

# At a login the bench is looked at, once a day: some twenty queries that no test but its own asks for.
user_logged_in.disconnect(dispatch_uid="look_ahead_at_login")

# The bytes of a paper follow from its text alone: what is the same text again is not set again.
paper._set = functools.lru_cache(maxsize=500)(paper._set)
paper._pages_of = functools.lru_cache(maxsize=500)(paper._pages_of)


def in_words(day: date, *, weekday: bool = True) -> str:
    """A day as papers and pages write it: Wed 25 Nov 2026."""
    return f"{day:%a} " * weekday + f"{day.day} {day:%b %Y}"


def the_day(day: date) -> str:
    """A day near by, as pages write it: Wed 25 Nov."""
    return in_words(day)[:-5]


def missing(program: str) -> bool:
    """Whether what needs this program is to be skipped. CI must have it, except in its run that is told to be BARE."""
    ci_has_all = os.environ.get("CI") == "true" and os.environ.get("BARE") != "1"
    return shutil.which(program) is None and not ci_has_all


def pytest_collection_modifyitems(items):
    """What cannot run here is skipped with a sentence; worked examples of a calendar hold in their own week only."""
    no_poppler = missing("pdftotext")
    _beside_those_that_begin_alike(items)
    for item in items:
        needs_poppler = item.get_closest_marker("papers") or "run" in getattr(item, "fixturenames", ())
        if no_poppler and needs_poppler:
            item.add_marker(pytest.mark.skip(reason="poppler-utils is not installed: apt-get install poppler-utils"))
        if item.get_closest_marker("calendar") and TODAY != CALENDARS_DAY:
            item.add_marker(pytest.mark.skip(reason=f"worked out by hand for the week of {in_words(CALENDARS_DAY)}"))


def pytest_generate_tests(metafunc):
    """A module's BEGINS holds set-ups that take long, by the fixture that asks for them; see `standing`."""
    if "standing" in metafunc.fixturenames:
        begins = metafunc.module.BEGINS
        make = next((begins[name] for name in begins if name in metafunc.fixturenames), None)
        metafunc.parametrize("standing", [make], indirect=True, scope="module", ids=[pytest.HIDDEN_PARAM])


def _beside_those_that_begin_alike(items):
    """Tests of a module that begin with the same rows follow each other, so that these are made once."""
    first: dict[object, int] = {}
    for number, item in enumerate(items):
        for key in (item.path, (item.path, _begins_with(item))):
            first.setdefault(key, number)
    items.sort(key=lambda item: (first[item.path], first[item.path, _begins_with(item)]))


def _begins_with(item):
    return item.callspec.params.get("standing") if hasattr(item, "callspec") else None


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """Every test, with its fixtures of any scope, begins at NOW; from there the clock ticks on."""
    with time_machine.travel(NOW, tick=True):
        return (yield)


@pytest.fixture(autouse=True)
def _fast_static_and_own_media(settings, tmp_path):
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.READY_DAY_DRAWS = 8  # futures; what is said of days and chances is tested with its own number


@pytest.fixture(scope="module")
def kept(django_db_setup, django_db_blocker, tmp_path_factory):
    """What a fixture writes in here stands for all tests of a module and is gone after the last: rows and files.

    For rows that take long to make, at NOW with the clock standing. Gives the folder of the files, which a fixture that
    hands the rows to a test makes that test's MEDIA_ROOT.
    """
    files = tmp_path_factory.mktemp("media")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=files), transaction.atomic():
        yield files
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def standing(request, django_db_setup, django_db_blocker):
    """The rows that tests begin with, by the fixture that hands each of them on; gone before a test begins otherwise.

    A module whose `BEGINS` says what makes them uses this fixture. They are made at NOW with the clock standing.
    """
    if request.param is None:
        yield {}
        return
    with django_db_blocker.unblock(), transaction.atomic():
        with time_machine.travel(NOW, tick=False):
            made = request.param()
        yield made
        transaction.set_rollback(True)


@pytest.fixture
def begun(request, db):
    """Asks for rows that stand already by the name of their fixture, read anew; None where it is to make its own."""
    made = request.getfixturevalue("standing") if "standing" in request.fixturenames else {}
    return lambda name: _anew(made[name]) if name in made else None


def _anew(made):
    if isinstance(made, dict):
        return {key: _anew(row) for key, row in made.items()}
    return [_anew(row) for row in made] if isinstance(made, list) else type(made).objects.get(pk=made.pk)


@pytest.fixture(scope="module")
def kept_rows(kept):
    """Every sample row of the walk, with the folder of its files."""
    from tests.walker import all_rows

    return all_rows(), kept


@pytest.fixture
def rows(kept_rows, db, settings):
    """The sample rows of the walk, to look at, or to change within the test."""
    rows, settings.MEDIA_ROOT = kept_rows
    return rows


@pytest.fixture
def run(tmp_path):
    """Hands a paper's bytes to a tool of poppler; gives what it says."""

    def tool(pdf: bytes, name: str, *options: str) -> str:
        path = tmp_path / "paper.pdf"
        path.write_bytes(pdf)
        after = ["-"] if name == "pdftotext" else []
        return subprocess.run([name, *options, str(path), *after], capture_output=True, check=True).stdout.decode()

    return tool


@pytest.fixture
def profile(begun) -> Profile:
    from tests.sample_shop import make_profile

    return begun("profile") or make_profile()


@functools.cache
def hashed(password: str) -> str:
    """Argon2 is slow on purpose; the tests' one password is hashed once."""
    return make_password(password)


def make_user(role: str) -> User:
    return User.objects.create(username=role, name=f"{role.capitalize()} Person", role=role, password=hashed(PASSWORD))


@pytest.fixture
def keeper(profile, begun) -> User:
    return begun("keeper") or make_user(Role.KEEPER)


@pytest.fixture
def counter(profile, begun) -> User:
    return begun("counter") or make_user(Role.COUNTER)


@pytest.fixture
def bench(profile, begun) -> User:
    return begun("bench") or make_user(Role.BENCH)


def logged_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def keeper_client(keeper) -> Client:
    return logged_in(keeper)


@pytest.fixture
def counter_client(counter) -> Client:
    return logged_in(counter)


@pytest.fixture
def bench_client(bench) -> Client:
    return logged_in(bench)


@pytest.fixture
def form_key():
    """A fresh submission key for each form that a test sends."""
    return lambda: str(uuid.uuid4())
