"""What a shop would notice: after a restore everything is as it was, and nothing is lost when it cannot be."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

from quotes.models import Document
from shop.models import Customer, JournalEntry, Photo, Profile
from shop.papers.paper import fingerprint
from shop.platform import backups, restoring
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


def backup(file: Path) -> None:
    call_command("backup", str(file), verbosity=0)


def restore(file: Path, *more: str) -> None:
    call_command("restore", str(file), *more, verbosity=0)


def empty_the_shop(shop_folder: Path) -> None:
    with transaction.atomic():
        restoring._empty()
    shutil.rmtree(shop_folder / "media", ignore_errors=True)
    assert not Profile.objects.exists()


def photo_bytes() -> bytes:
    return Path(Photo.objects.get().image.path).read_bytes()


def test_after_a_restore_every_row_and_photo_is_as_it_was(lived_in, shop_folder, file):
    before, shot = rows.everything(), photo_bytes()
    assert all(before[label] for label in ("quotes.Damage_photos", "inventory.Movement", "shop.JournalEntry"))
    backup(file)
    empty_the_shop(shop_folder)
    restore(file)
    assert rows.everything() == before
    assert photo_bytes() == shot


def test_a_given_out_paper_survives_byte_for_byte(lived_in, shop_folder, file):
    backup(file)
    empty_the_shop(shop_folder)
    restore(file)
    paper = Document.objects.get()
    assert bytes(paper.pdf) == rows.EVERY_BYTE
    assert fingerprint(bytes(paper.pdf)) == paper.sha256


def test_new_rows_get_new_numbers_after_a_restore(lived_in, shop_folder, file):
    backup(file)
    empty_the_shop(shop_folder)
    restore(file)
    last = max(Customer.objects.values_list("pk", flat=True))
    assert rows.customer(lived_in, "Tomás").pk > last
    assert JournalEntry.objects.latest("pk").words == "Added a customer"


def test_logins_work_after_a_restore_and_sessions_do_not(lived_in, shop_folder, file, client):
    client.force_login(lived_in)
    assert Session.objects.exists()
    backup(file)
    with zipfile.ZipFile(file) as archive:
        assert not [name for name in archive.namelist() if "session" in name or "axes" in name]
    restore(file, "--replace")
    assert not Session.objects.exists()
    assert client.login(request=_request(), username="keeper", password="a long enough password")


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


def test_photos_that_no_row_names_are_not_thrown_away(lived_in, shop_folder, file, capsys):
    backup(file)
    empty_the_shop(shop_folder)
    (shop_folder / "media").mkdir()
    (shop_folder / "media" / "found.jpg").write_bytes(b"somebody's")
    restore(file)
    (kept,) = shop_folder.glob("media.before-restore-*")
    assert (kept / "found.jpg").read_bytes() == b"somebody's"
    assert str(kept) in capsys.readouterr().out


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
        if name != backups.MANIFEST:
            return data
        manifest = json.loads(data)
        change(manifest)
        return json.dumps(manifest).encode()

    return apply


DAMAGES = {
    "a figure was changed": lambda n, d: d.replace(b"96.1237", b"16.1237") if "movement" in n else d,
    "a table is gone": lambda n, d: None if n == "rows/shop.customer.jsonl" else d,
    "a photo is gone": lambda n, d: None if n.startswith("media/") else d,
    "a photo was changed": lambda n, d: d[:-2] + b"xx" if n.startswith("media/") else d,
    "the manifest is gone": lambda n, d: None if n == backups.MANIFEST else d,
    "the manifest is no manifest": lambda n, d: b"[]" if n == backups.MANIFEST else d,
    "a photo would land elsewhere": with_manifest(
        lambda m: m["media"].update({"../secret-key": m["media"].popitem()[1]})
    ),
}


@pytest.mark.parametrize("what", DAMAGES)
def test_a_damaged_file_changes_nothing(lived_in, shop_folder, file, tmp_path, what):
    backup(file)
    bad = tampered(file, tmp_path / "bad.zip", DAMAGES[what])
    before, shot = rows.everything(), photo_bytes()
    with pytest.raises(CommandError, match=r"bad\.zip (is damaged|names a file outside)"):
        restore(bad, "--replace")
    assert rows.everything() == before
    assert photo_bytes() == shot


def test_rows_that_do_not_fit_together_change_nothing(lived_in, shop_folder, file, tmp_path):
    # Hashes and manifest are right, a board's owner is not there: only the database can notice, after everything is in.
    backup(file)
    with zipfile.ZipFile(file) as archive:
        row = json.loads(archive.read("rows/shop.board.jsonl"))
    line = json.dumps({**row, "owner_id": 987_654}).encode() + b"\n"
    named = with_manifest(lambda m: m["rows"]["shop.board"].update(sha256=hashlib.sha256(line).hexdigest()))
    bad = tampered(file, tmp_path / "bad.zip", lambda n, d: line if n == "rows/shop.board.jsonl" else named(n, d))
    before, shot = rows.everything(), photo_bytes()
    with pytest.raises(CommandError, match=r"rows of .*bad\.zip do not fit together"):
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
        with_manifest(lambda m: m.update(format=2)),
        with_manifest(lambda m: m["migrations"].append("shop.9999_from_the_future")),
    ],
    ids=["format", "migration"],
)
def test_a_backup_of_a_newer_version_is_refused_with_a_sentence(lived_in, file, tmp_path, newer):
    backup(file)
    with pytest.raises(CommandError, match=r"newer than this one .* Update Dryrack first"):
        restore(tampered(file, tmp_path / "newer.zip", newer), "--replace")


def test_a_backup_from_before_a_migration_is_read_and_brought_up_to_date(lived_in, shop_folder, file):
    to(("shop", "0001_first_rows"))
    try:
        backup(file)  # the code is ahead of the database here, as when a new version starts
        with zipfile.ZipFile(file) as archive:
            assert b"name_folded" not in archive.read("rows/shop.customer.jsonl")
    finally:
        to(*MigrationExecutor(connection).loader.graph.leaf_nodes())
    empty_the_shop(shop_folder)
    restore(file)
    assert Customer.objects.get().name_folded == "niamh o se 🏄"
    assert not MigrationExecutor(connection).migration_plan(MigrationExecutor(connection).loader.graph.leaf_nodes())


def to(*targets: tuple[str, str]) -> None:
    MigrationExecutor(connection).migrate(list(targets))


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
        f"call_command('backup', {str(file)!r}, verbosity=0)\n"
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
    backup(file)
    with zipfile.ZipFile(file) as archive:
        kept = set(json.loads(archive.read(backups.MANIFEST))["rows"])
    tables = {t for t in connection.introspection.table_names() if t.startswith(("shop_", "inventory_", "quotes_"))}
    models = {model._meta.label_lower: model._meta.db_table for model in backups.kept_models(restoring_apps())}
    assert {models[label] for label in kept} == tables


def restoring_apps():
    return backups.rows_as_they_stand()[0]


def test_a_backup_says_when_it_was_made_and_by_which_version(lived_in, file, settings):
    backups.write_backup(file, at=NOW)
    with zipfile.ZipFile(file) as archive:
        manifest = json.loads(archive.read(backups.MANIFEST))
    assert (manifest["made_at"], manifest["version"]) == (NOW.isoformat(), settings.VERSION)
    assert "shop.0002_customers_found_without_accents" in manifest["migrations"]
