"""What a shop would notice: after a restore everything is as it was, and nothing is lost when it cannot be."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import sqlite3
import stat
import subprocess
import sys
import threading
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.db.migrations.executor import MigrationExecutor

from quotes.models import Document
from shop.models import Customer, JournalEntry, Photo, Profile
from shop.papers.paper import fingerprint
from shop.platform import backups, dumps, lines, schema
from shop.platform.manifest import MANIFEST
from tests.conftest import NOW, make_user
from tests.sample_shop import make_profile
from tests.shop import rows

HOUSE = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shop_folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "media"
    settings.DATA_DIR.mkdir()
    return settings.DATA_DIR


@pytest.fixture
def lived_in(shop_folder):
    """A shop that has been worked in."""
    make_profile()
    keeper = make_user("keeper")
    rows.fill_every_corner(keeper)
    return keeper


@pytest.fixture
def file(tmp_path) -> Path:
    return tmp_path / "shop.zip"


@pytest.fixture(params=[(), ("--portable",)], ids=["own", "portable"])
def options(request) -> tuple[str, ...]:
    """The database's own form, and the one that either database reads."""
    return request.param


def backup(file: Path, *options: str) -> None:
    call_command("backup", str(file), *options, verbosity=0)


def restore(file: Path, *more: str) -> None:
    call_command("restore", str(file), *more, verbosity=0)


def empty_the_shop(shop_folder: Path) -> None:
    call_command("flush", interactive=False, verbosity=0)
    shutil.rmtree(shop_folder / "media", ignore_errors=True)
    assert not Profile.objects.exists()


def photo_bytes() -> bytes:
    return Path(Photo.objects.get().image.path).read_bytes()


def test_after_a_restore_every_row_and_photo_is_as_it_was(lived_in, shop_folder, file, options):
    before, shot = rows.everything(), photo_bytes()
    assert all(before[label] for label in ("quotes.Damage_photos", "inventory.Movement", "shop.JournalEntry"))
    backup(file, *options)
    empty_the_shop(shop_folder)
    restore(file)
    assert rows.everything() == before
    assert photo_bytes() == shot


def test_a_given_out_paper_survives_byte_for_byte(lived_in, shop_folder, file, options):
    backup(file, *options)
    empty_the_shop(shop_folder)
    restore(file)
    paper = Document.objects.get()
    assert bytes(paper.pdf) == rows.EVERY_BYTE
    assert fingerprint(bytes(paper.pdf)) == paper.sha256


def test_new_rows_get_new_numbers_after_a_restore(lived_in, shop_folder, file, options):
    backup(file, *options)
    empty_the_shop(shop_folder)
    restore(file)
    last = max(Customer.objects.values_list("pk", flat=True))
    assert rows.customer(lived_in, "Tomás").pk > last
    assert JournalEntry.objects.latest("pk").words == "Added a customer"


def test_logins_work_after_a_restore_and_sessions_do_not(lived_in, shop_folder, file, options, client, tmp_path):
    client.force_login(lived_in)
    key = Session.objects.get().session_key
    backup(file, *options)
    assert key.encode() not in all_that_is_in(file, tmp_path)
    assert lived_in.password.encode() in all_that_is_in(file, tmp_path), "the look into the file would find it"
    restore(file, "--replace")
    assert not Session.objects.exists()
    assert client.login(request=_request(), username="keeper", password="a long enough password")


def all_that_is_in(file: Path, folder: Path) -> bytes:
    """The backup unpacked, the dump of PostgreSQL too."""
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
        if dump := parts.pop(dumps.DUMPS["postgresql"], None):
            (folder / "dump").write_bytes(dump)
            said = subprocess.run(["pg_restore", "-f-", str(folder / "dump")], capture_output=True, check=True)
            parts["dump"] = said.stdout
    return b"".join(parts.values())


def _request():
    from django.test import RequestFactory

    request = RequestFactory().get("/login/")
    request.session = {}
    return request


def test_a_shop_is_never_overwritten_unasked(lived_in, shop_folder, file):
    backup(file)
    rows.customer(lived_in, "Came after the backup")
    before = rows.everything()
    with pytest.raises(CommandError, match=r"holds a shop already\. Add --replace"):
        restore(file)
    assert rows.everything() == before


def test_replacing_keeps_what_was_there_in_a_backup_first(lived_in, shop_folder, file):
    backup(file)
    rows.customer(lived_in, "Came after the backup")
    after = rows.everything()
    restore(file, "--replace")
    assert not Customer.objects.filter(name="Came after the backup").exists()
    (earlier,) = (shop_folder / "backups").glob("before-restore-*.zip")
    restore(earlier, "--replace")
    assert rows.everything() == after
    assert photo_bytes()
    assert sorted(path.name for path in shop_folder.iterdir()) == ["backups", "media"]


def test_photos_that_no_row_names_are_not_thrown_away(lived_in, shop_folder, file):
    backup(file)
    found = shop_folder / "media" / "found.jpg"
    found.write_bytes(b"somebody's")
    restore(file, "--replace")
    empty_the_shop(shop_folder)
    found.parent.mkdir()
    found.write_bytes(b"somebody's")
    restore(file)
    assert found.read_bytes() == b"somebody's"


def test_photos_of_the_shop_that_was_replaced_go_with_it_and_come_back_with_it(lived_in, shop_folder, file):
    backup(file)
    later = rows.photo(lived_in, Photo.objects.get().board)
    restore(file, "--replace")
    kept = Photo.objects.get()
    assert [path.name for path in (shop_folder / "media").rglob("*.*")] == [Path(kept.image.name).name]
    (earlier,) = (shop_folder / "backups").glob("before-restore-*.zip")
    restore(earlier, "--replace")
    assert Path(later.image.path).is_file()


def test_a_photo_that_was_damaged_on_the_disk_is_whole_again(lived_in, shop_folder, file):
    shot = photo_bytes()
    backup(file)
    Path(Photo.objects.get().image.path).write_bytes(bytes(len(shot)))
    restore(file, "--replace")
    assert photo_bytes() == shot


def tampered(file: Path, target: Path, change) -> Path:
    """The backup with one part changed; `change` gets its name and bytes, and gives bytes or None to leave it out."""
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            data = change(name, old.read(name))
            if data is not None:
                new.writestr(name, data)
    return target


def with_manifest(change):
    def apply(name: str, data: bytes) -> bytes:
        if name != MANIFEST:
            return data
        manifest = json.loads(data)
        change(manifest)
        return json.dumps(manifest).encode()

    return apply


def is_rows(name: str) -> bool:
    return name in dumps.DUMPS.values() or name == "rows/inventory.movement.jsonl"


DAMAGES = {
    "a figure was changed": lambda n, d: d[:-9] + b"123456789" if is_rows(n) else d,
    "a table is gone": lambda n, d: None if is_rows(n) else d,
    "a photo is gone": lambda n, d: None if n.startswith("media/") else d,
    "a photo was changed": lambda n, d: d[:-2] + b"xx" if n.startswith("media/") else d,
    "the manifest is gone": lambda n, d: None if n == MANIFEST else d,
    "the manifest is no manifest": lambda n, d: b"[]" if n == MANIFEST else d,
    "the manifest is another's": with_manifest(lambda m: m.update(software="other")),
    "the manifest has no list of rows": with_manifest(lambda m: m.pop("rows")),
    "the manifest counts no rows": with_manifest(lambda m: m["rows"].update({next(iter(m["rows"])): {}})),
    "the manifest lists no photos": with_manifest(lambda m: m.update(media=[7])),
    "the manifest names no migrations": with_manifest(lambda m: m.update(migrations=7)),
    "a photo would land elsewhere": with_manifest(
        lambda m: m["media"].update({"../secret-key": m["media"].popitem()[1]})
    ),
}


def test_a_damaged_file_changes_nothing(lived_in, shop_folder, file, options, tmp_path):
    backup(file, *options)
    before, shot = rows.everything(), photo_bytes()
    for what, change in DAMAGES.items():
        bad = tampered(file, tmp_path / "bad.zip", change)
        with pytest.raises(CommandError) as said:
            restore(bad, "--replace")
        assert re.search(r"bad\.zip (is damaged|names a file outside)", str(said.value)), what
    assert rows.everything() == before
    assert photo_bytes() == shot
    assert not (shop_folder / "backups").exists()


def test_lines_that_do_not_fit_together_change_nothing(lived_in, shop_folder, file, tmp_path):
    # Hashes and manifest are right, a board's owner is not there: only the database can notice, after everything is in.
    backup(file, "--portable")
    with zipfile.ZipFile(file) as archive:
        row = json.loads(archive.read("rows/shop.board.jsonl"))
    line = json.dumps({**row, "owner_id": 987_654}).encode() + b"\n"
    refused_whole(file, "rows/shop.board.jsonl", line, tmp_path)


def test_rows_that_do_not_fit_together_change_nothing(lived_in, shop_folder, file, tmp_path):
    backup(file)
    part = dumps.DUMPS[connection.vendor]
    with zipfile.ZipFile(file) as archive:
        archive.extract(part, tmp_path)
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(tmp_path / part)) as bad, bad:
            bad.execute("UPDATE shop_board SET owner_id = 987654")
        refused_whole(file, part, (tmp_path / part).read_bytes(), tmp_path)
    else:
        half = (tmp_path / part).read_bytes()
        refused_whole(file, part, half[: len(half) // 2], tmp_path)


def refused_whole(file: Path, part: str, now: bytes, folder: Path) -> None:
    """With this part, its hash made right, the backup is refused; rows and photos are as before, nothing is added."""
    name = part.removeprefix("rows/").removesuffix(".jsonl")
    named = with_manifest(lambda m: m["rows"][name].update(sha256=hashlib.sha256(now).hexdigest()))
    bad = tampered(file, folder / "bad.zip", lambda n, d: now if n == part else named(n, d))
    before, shot = rows.everything(), photo_bytes()
    with pytest.raises(CommandError, match=r"bad\.zip (do not fit together|could not be put in place)"):
        restore(bad, "--replace")
    assert rows.everything() == before
    assert photo_bytes() == shot


@pytest.mark.parametrize("cut", [0, 100, -100])
def test_a_file_cut_short_is_refused_with_a_sentence(lived_in, file, tmp_path, cut):
    backup(file)
    bad = tmp_path / "cut.zip"
    bad.write_bytes(file.read_bytes()[:cut])
    with pytest.raises(CommandError, match="damaged, or no backup of Dryrack; nothing was changed"):
        restore(bad, "--replace")


@pytest.mark.parametrize(
    "newer",
    [
        with_manifest(lambda m: m.update(format=3)),
        with_manifest(lambda m: m["migrations"].append("shop.9999_from_the_future")),
    ],
    ids=["format", "migration"],
)
def test_a_backup_of_a_newer_version_is_refused_with_a_sentence(lived_in, file, tmp_path, newer):
    backup(file)
    with pytest.raises(CommandError, match=r"newer than this one .*Update Dryrack first"):
        restore(tampered(file, tmp_path / "newer.zip", newer), "--replace")


def test_a_backup_from_before_a_migration_is_read_and_brought_up_to_date(
    lived_in, shop_folder, file, options, settings, monkeypatch
):
    with monkeypatch.context() as ahead:
        ahead.setattr(settings, "MIGRATION_MODULES", {"shop": "tests.shop.platform.next_migrations"})
        backup(file, *options)  # the code is ahead of the database here, as when a new version starts
        empty_the_shop(shop_folder)
        restore(file)
        try:
            assert words_of_next_version() == ["NIAMH Ó SÉ 🏄"]
            assert not MigrationExecutor(connection).migration_plan([("shop", "9999_louder")])
            with pytest.raises(CommandError, match="holds a shop already"):
                restore(file)
        finally:
            executor = MigrationExecutor(connection)
            ours = [name for app, name in executor.loader.graph.nodes if app == "shop" and name < "9999"]
            executor.migrate([("shop", max(ours))])
    assert Customer.objects.get().name == "Niamh Ó Sé 🏄"


def words_of_next_version() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT loud FROM shop_customer")
        return [loud for (loud,) in cursor.fetchall()]


@pytest.mark.slow
def test_a_backup_made_on_sqlite_is_read_here(shop_folder, file, tmp_path):
    # Whichever database this run is on: the file comes from a fresh SQLite one of another process.
    script = (
        "import django; django.setup()\n"
        "from django.core.management import call_command\n"
        "call_command('migrate', verbosity=0)\n"
        "from tests.conftest import make_user\n"
        "from tests.sample_shop import make_profile\n"
        "from tests.shop import rows\n"
        "make_profile(); rows.fill_every_corner(make_user('keeper'))\n"
        f"call_command('backup', {str(file)!r}, portable=True, verbosity=0)\n"
    )
    env = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "TEST_DB")}
    env |= {"DATA_DIR": str(tmp_path / "other"), "DJANGO_SETTINGS_MODULE": "shop.settings"}
    made = subprocess.run(
        [sys.executable, "-c", script], cwd=HOUSE, env=env, capture_output=True, text=True, check=False
    )
    assert made.returncode == 0, made.stderr
    restore(file)
    assert bytes(Document.objects.get().pdf) == rows.EVERY_BYTE
    assert JournalEntry.objects.filter(at=rows.ODD_MOMENT).exists()
    assert photo_bytes()


def test_a_dump_of_the_other_database_is_refused_and_the_way_told(lived_in, file, tmp_path):
    backup(file)
    other = "postgresql" if connection.vendor == "sqlite" else "sqlite"
    theirs = tampered(file, tmp_path / "theirs.zip", with_manifest(lambda m: m.update(database=other)))
    with pytest.raises(CommandError, match=f"as {dumps.NAMES[other]} keeps them.* anew there with backup --portable"):
        restore(theirs, "--replace")


def test_what_is_missing_to_dump_postgresql_is_said(monkeypatch):
    monkeypatch.setattr(dumps.shutil, "which", lambda _: None)
    with pytest.raises(backups.BackupProblem, match="apt-get install postgresql-client"):
        dumps._run("pg_dump")


def test_a_database_in_use_is_not_replaced(lived_in, shop_folder, file, monkeypatch):
    backup(file)
    rows.photo(lived_in, Photo.objects.get().board)
    before = rows.everything()
    monkeypatch.setattr(dumps, "PATIENCE_S", 0.2)
    in_use = connections.create_connection("default")
    try:
        with in_use.cursor() as cursor:
            cursor.execute("BEGIN")
            cursor.execute("UPDATE shop_customer SET note = 'under way'")
            with pytest.raises(
                CommandError, match=r"cannot be written .* Stop the service first|in place .*lock timeout"
            ):
                restore(file, "--replace")
            cursor.execute("ROLLBACK")
    finally:
        in_use.close()
    assert rows.everything() == before
    assert all(Path(photo.image.path).is_file() for photo in Photo.objects.all())


def in_another_thread(act) -> None:
    """Done beside this one, by its own connection, without waiting."""

    def run():
        try:
            act()
        finally:
            connections.close_all()

    beside = threading.Thread(target=run)
    beside.start()
    beside.join(5)
    assert not beside.is_alive(), "who writes waits for the backup"


def test_who_writes_does_not_wait_for_a_backup_and_is_not_in_it_by_half(
    lived_in, shop_folder, file, options, monkeypatch
):
    write_lines, dump = lines.write_lines, dumps.dump

    def meanwhile(act):
        def both(*args):
            in_another_thread(lambda: rows.photo(lived_in, rows.board(lived_in, rows.customer(lived_in, "Meanwhile"))))
            return act(*args)

        return both

    before = rows.everything()
    monkeypatch.setattr(backups, "write_lines", meanwhile(write_lines))
    monkeypatch.setattr(dumps, "dump", meanwhile(dump))
    backup(file, *options)
    assert Customer.objects.filter(name="Meanwhile").exists()
    restore(file, "--replace")
    assert rows.everything() == before


def test_who_writes_does_not_wait_while_sqlite_is_copied(lived_in, file):
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL never lets a writer wait for a reader")
    done = []

    def write() -> None:
        with closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=0)) as beside, beside:
            beside.execute("UPDATE shop_customer SET note = 'written meanwhile'")
        done.append(True)

    def watched(execute, sql, *more):
        if sql.startswith("VACUUM INTO"):
            connection.connection.set_progress_handler(lambda: write() if not done else None, 200)
        return execute(sql, *more)

    with connection.execute_wrapper(watched):
        backup(file)
    assert done == [True]
    assert Customer.objects.get().note == "written meanwhile"


def test_a_backup_is_readable_by_its_owner_only_and_never_overwritten(lived_in, file):
    backup(file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    with pytest.raises(CommandError, match="is there already; choose another name"):
        backup(file)
    with pytest.raises(CommandError, match="There is no folder"):
        backup(file.parent / "nowhere" / "shop.zip")


def test_a_photo_whose_file_is_gone_is_named_and_the_rest_kept(lived_in, shop_folder, file, capsys):
    name = Photo.objects.get().image.name
    (shop_folder / "media" / name).unlink()
    backup(file)
    assert name in capsys.readouterr().err
    before = rows.everything()
    restore(file, "--replace")
    assert rows.everything() == before


def test_a_crash_while_writing_leaves_no_half_file(lived_in, file, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backups, "_write_media", full)
    with pytest.raises(CommandError, match="No space left"):
        backup(file)
    assert list(file.parent.glob("*shop.zip*")) == []


def test_no_table_of_the_shop_is_forgotten(shop_folder, file):
    make_profile()
    backup(file, "--portable")
    with zipfile.ZipFile(file) as archive:
        kept = set(json.loads(archive.read(MANIFEST))["rows"])
    tables = {t for t in connection.introspection.table_names() if t.startswith(("shop_", "inventory_", "quotes_"))}
    models = {
        model._meta.label_lower: model._meta.db_table for model in schema.kept_models(schema.models_as_they_stand())
    }
    assert {models[label] for label in kept} == tables


def test_a_backup_says_when_it_was_made_and_by_which_version(lived_in, file, settings):
    backups.write_backup(file, at=NOW)
    with zipfile.ZipFile(file) as archive:
        manifest = json.loads(archive.read(MANIFEST))
    assert (manifest["made_at"], manifest["version"]) == (NOW.isoformat(), settings.VERSION)
    assert "shop.0001_first_release" in manifest["migrations"]
