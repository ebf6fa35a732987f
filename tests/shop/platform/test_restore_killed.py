"""A restore that is killed, at whatever step, leaves the old shop or the new one: every row, and every photo of it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection

from shop.models import Photo
from tests.conftest import make_user
from tests.inventory.stock.test_kill import database_url
from tests.sample_shop import make_profile
from tests.shop import rows

HOUSE = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.django_db(transaction=True)

KILLED = """
import os, signal
import django; django.setup()
from django.core.management import call_command
from shop.platform import {room}
def killed(*_, **__):
    if {done_first}:
        act(*_, **__)
    os.kill(os.getpid(), signal.SIGKILL)
act, {room}.{act} = {room}.{act}, killed
call_command("restore", {file!r}, replace=True)
"""
STEPS = {  # the room and what it calls; whether it is done before the kill; whether the new shop is there then
    "before anything is made ready": ("restoring", "_made_ready", False, False),
    "rows are ready, no photo is there": ("restoring", "_lay", False, False),
    "the first photo is there": ("restoring", "_lay", True, False),
    "all photos are there, rows are not": ("dumps", "put_in_place", False, False),
    "rows are there, photos of before too": ("dumps", "put_in_place", True, True),
}


@pytest.mark.parametrize("step", STEPS)
def test_a_killed_restore_leaves_one_shop_whole(settings, tmp_path, step):
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "media"
    settings.DATA_DIR.mkdir()
    make_profile()
    keeper = make_user("keeper")
    rows.fill_every_corner(keeper)
    board = Photo.objects.get().board
    rows.photo(keeper, board)
    new, new_photos, file = rows.everything(), photos(), tmp_path / "shop.zip"
    call_command("backup", str(file), verbosity=0)
    call_command("flush", interactive=False, verbosity=0)
    for photo in settings.MEDIA_ROOT.rglob("*.jpg"):
        photo.unlink()
    make_profile()
    rows.fill_every_corner(make_user("keeper"))
    old, old_photos = rows.everything(), photos()
    room, act, done_first, is_new = STEPS[step]
    script = KILLED.format(room=room, act=act, done_first=done_first, file=str(file))
    environment = {**os.environ, "DATABASE_URL": database_url(), "DATA_DIR": str(settings.DATA_DIR)}
    environment["DJANGO_SETTINGS_MODULE"] = "shop.settings"
    connection.close()
    ended = subprocess.run([sys.executable, "-c", script], cwd=HOUSE, env=environment, capture_output=True, check=False)
    assert ended.returncode == -signal.SIGKILL, ended.stderr.decode()
    assert rows.everything() == (new if is_new else old)
    assert photos() == (new_photos if is_new else old_photos)
    call_command("restore", str(file), "--replace", verbosity=0)
    assert (rows.everything(), photos()) == (new, new_photos)
    assert not (settings.DATA_DIR / ".restoring").exists()


def photos() -> dict[str, bytes]:
    """The bytes of each photo that a row names."""
    return {photo.image.name: Path(photo.image.path).read_bytes() for photo in Photo.objects.all()}
