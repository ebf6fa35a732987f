"""The last version before the first release comes over, though its migrations were made one of each app.

`shop-8986b7a.sqlite3.xz` and `shop-8986b7a.zip` are a database and a backup made by that commit's own code at one
moment: its demo as of 24 November 2026, its `tick`, a photo; each paper is a line that names what it was made from.
"""

from __future__ import annotations

import io
import json
import lzma
import re
import sqlite3
import zipfile
from contextlib import closing, contextmanager
from importlib import import_module
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder
from django.urls import reverse

from quotes.estimating import taught
from quotes.models import Invoice, Job, Quote, Step
from shop.management.commands.serve import prepare
from shop.models import JournalEntry, Photo, User
from shop.platform.dumps import pointed_at
from tests.conftest import logged_in
from tests.sample_shop import make_profile
from tests.shop import rows
from tests.updates.test_updates import AFTERWARDS, problems

KEYS = import_module("shop.migrations.0002_one_style_of_journal_keys").KEYS
FIRST_RELEASE = [(app, "0001_first_release") for app in ("shop", "inventory", "quotes")]

HERE = Path(__file__).parent
DATABASE, BACKUP = HERE / "shop-8986b7a.sqlite3.xz", HERE / "shop-8986b7a.zip"
pytestmark = pytest.mark.django_db(transaction=True)
sqlite_only = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="looks into a file of SQLite")


@pytest.fixture
def folder(settings, tmp_path):
    """The user's data on the morning after, before anything is in it."""
    settings.DATA_DIR, settings.MEDIA_ROOT, settings.STATIC_ROOT = tmp_path, tmp_path / "media", tmp_path / "static"
    with time_machine.travel(AFTERWARDS):
        yield tmp_path


@pytest.fixture
def database(folder) -> Path:
    """The database as that version left it, and its photo."""
    return laid_out(folder)


def laid_out(folder: Path) -> Path:
    file = folder / "dryrack.sqlite3"
    file.write_bytes(lzma.decompress(DATABASE.read_bytes()))
    with zipfile.ZipFile(BACKUP) as archive:
        archive.extractall(folder, [name for name in archive.namelist() if name.startswith("media/")])
    return file


def drawn(file: Path) -> dict[tuple[str, str], object]:
    """Every table, index, trigger and view of a file; the columns and constraints of a table in any order."""
    with closing(sqlite3.connect(file)) as there:
        found = there.execute("SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'").fetchall()
    return {(kind, name): told_apart(sql) if kind == "table" else sql for kind, name, sql in found}


def told_apart(sql: str) -> list[str]:
    """The columns and constraints of CREATE TABLE, cut at the commas that stand in no bracket and no quotes."""
    inside = sql[sql.index("(") + 1 : sql.rindex(")")]
    pieces, depth = [""], 0
    for token in re.findall(r"'[^']*'|\"[^\"]*\"|[(),]|[^(),'\"]+", inside):
        depth += {"(": 1, ")": -1}.get(token, 0)
        if token == "," and not depth:
            pieces.append("")
        else:
            pieces[-1] += token
    return sorted(piece.strip() for piece in pieces)


@sqlite_only
def test_a_new_database_is_drawn_as_the_earlier_migrations_drew_it(database, tmp_path):
    with pointed_at(tmp_path / "new.sqlite3"):
        executor = MigrationExecutor(connection)
        ours = {app for app, _ in FIRST_RELEASE}
        executor.migrate(FIRST_RELEASE + [leaf for leaf in executor.loader.graph.leaf_nodes() if leaf[0] not in ours])
    new = drawn(tmp_path / "new.sqlite3")
    assert new == drawn(database)
    assert len(new) > 200


@sqlite_only
def test_its_database_is_taken_as_it_is(database):
    with pointed_at(database):
        executor = MigrationExecutor(connection)
        of_then = executor.loader.project_state(FIRST_RELEASE).apps
        before = rows.everything(of_then)
        assert executor.migration_plan(FIRST_RELEASE) == [], "every table is there already"
        executor.migrate(FIRST_RELEASE)
        assert rows.everything(of_then) == before
        assert {app for app, name in recorded() if name == "0001_first_release"} == {"shop", "inventory", "quotes"}
        prepare(io.StringIO())
        assert problems() == []
        assert opened(User.objects.get(role="keeper")) == {200}


def in_one_style(kept: dict[str, list[dict[str, object]]]) -> dict[str, list[dict[str, object]]]:
    """The rows with the journal's keys as they are called now."""
    entries = [{**row, "verb": KEYS.get(row["verb"], row["verb"])} for row in kept["shop.JournalEntry"]]
    return {**kept, "shop.JournalEntry": entries}


def test_every_entry_of_its_journal_has_a_key_of_one_style(folder):
    call_command("restore", str(BACKUP), stdout=io.StringIO())
    keys = set(JournalEntry.objects.values_list("verb", flat=True))
    assert len(keys) > 20
    assert [key for key in keys if not re.fullmatch(r"[a-z_]+\.[a-z_]+", key)] == []


def test_its_backup_is_restored_with_its_photo_and_the_books_are_right(folder):
    said = io.StringIO()
    call_command("restore", str(BACKUP), stdout=said)
    assert said.getvalue().strip() == f"Restored 6520 rows and 1 photos from {BACKUP}"
    assert Path(Photo.objects.get().image.path).stat().st_size == 296
    assert problems() == []
    if connection.vendor == "sqlite":
        of_then = MigrationExecutor(connection).loader.project_state(FIRST_RELEASE).apps
        restored = rows.everything(of_then)
        with pointed_at(laid_out(folder)):
            assert in_one_style(rows.everything(of_then)) == restored
    assert opened(User.objects.get(role="keeper")) == {200}
    assert taught()["learned"], "what it learned is read as it is"


def opened(keeper: User) -> set[int]:
    """How the pages answer on which most of what it kept is shown."""
    names = (
        "rack",
        "quotes",
        "money",
        "store",
        "buy-list",
        "learned",
        "operations",
        "backtest",
        "recipes",
        "price-list",
    )
    where = [reverse(name) for name in names]
    for name, model in (("job", Job), ("quote", Quote), ("step", Step), ("invoice", Invoice), ("photo", Photo)):
        where += [reverse(name, args=[row.pk]) for row in model.objects.order_by("-pk")[:2]]
    client = logged_in(keeper)
    return {client.get(page).status_code for page in where}


def recorded() -> set[tuple[str, str]]:
    return set(MigrationRecorder(connection).applied_migrations())


@contextmanager
def only_recorded(keys: set[tuple[str, str]]):
    """The database as one whose migrations are these; afterwards as it was."""
    recorder, was = MigrationRecorder(connection), recorded()
    try:
        for key in was - keys:
            recorder.record_unapplied(*key)
        yield
    finally:
        for key in was - recorded():
            recorder.record_applied(*key)


def test_a_database_with_every_earlier_migration_waits_for_nothing(folder, client):
    make_profile()
    with only_recorded({key for key in recorded() if key[1] != "0001_first_release"}):
        executor = MigrationExecutor(connection)
        assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []
        assert client.get("/health/").json()["well"] is True
        prepare(io.StringIO())
        assert ("quotes", "0001_first_release") in recorded()
        assert not (folder / "backups").exists()


def test_a_database_that_stopped_half_way_is_told_to_go_there_first(folder):
    make_profile()
    ours = {key for key in recorded() if key[1] != "0001_first_release"}
    with only_recorded(ours - {("quotes", "0017_steps_that_serve_several_repairs")}):
        sentence = r"The database stopped half way .*quotes\.0017_steps.* the last version before this one first"
        for act in (
            lambda: prepare(io.StringIO()),
            lambda: call_command("migrate", skip_checks=False, verbosity=0),
            lambda: call_command("backup", str(folder / "shop.zip")),
            lambda: call_command("restore", str(BACKUP)),
        ):
            with pytest.raises(CommandError, match=sentence):
                act()


def test_a_database_of_a_newer_version_is_not_served(folder):
    MigrationRecorder(connection).record_applied("shop", "9999_from_the_future")
    try:
        with pytest.raises(CommandError, match=r"newer than this one \(it has shop\.9999_from_the_future\)\. Update"):
            prepare(io.StringIO())
    finally:
        MigrationRecorder(connection).record_unapplied("shop", "9999_from_the_future")


def test_a_backup_from_half_way_is_refused_with_the_same_sentence(folder, tmp_path):
    older = tmp_path / "older.zip"
    with zipfile.ZipFile(BACKUP) as now, zipfile.ZipFile(older, "w") as then:
        manifest = json.loads(now.read("manifest.json"))
        manifest["migrations"].remove("inventory.0013_words_of_constraints")
        then.writestr("manifest.json", json.dumps(manifest))
    with pytest.raises(CommandError, match=r"older\.zip stopped half way .*0013_words_of_constraints is missing"):
        call_command("restore", str(older))
    assert not User.objects.exists()
