"""A backup read back: proven whole first, then put in the database's place all at once or not at all.

The order makes a kill harmless. Rows are made ready and brought up to date beside the database where that is SQLite;
new photos are laid beside the old ones, under names nobody else has; then the rows take their place in one transaction;
last, photos that only the old rows named go. What is interrupted leaves the old shop or the new one.
"""

from __future__ import annotations

import os
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.exceptions import FieldError, ValidationError
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from shop.platform import dumps
from shop.platform.backups import Contents, file_names, write_backup
from shop.platform.lines import read_lines
from shop.platform.manifest import DUMP, LINES, BackupProblem, Manifest, copied, leaves
from shop.platform.schema import SchemaProblem, in_names_of_now, migrations_had, models_as_they_stand

DAMAGED = (KeyError, TypeError, ValueError, AttributeError, zipfile.BadZipFile, OSError, EOFError, NotImplementedError)
DO_NOT_FIT = (DatabaseError, ValidationError, FieldError, TypeError, ValueError, KeyError, LookupError)


@dataclass(frozen=True)
class Restored:
    """What was put in place, and where what was there before is kept, if there was anything."""

    contents: Contents
    earlier: Path | None


def restore_backup(path: Path, *, replace: bool, at: datetime, backups: Path) -> Restored:
    """Put a backup's rows and photos in the place of this database's. Raises BackupProblem or SchemaProblem.

    Nothing is changed then. A database that holds a shop is only replaced with `replace`, after a backup of it into
    the folder `backups`.
    """
    with _opened(path) as (archive, manifest), _scratch() as folder:
        _prove(archive, manifest, path)
        earlier, names_before = _make_room(replace, at, backups)
        try:
            fresh = _made_ready(archive, manifest, folder)
            with _photos_in_place(archive, manifest):
                _put_in_place(archive, manifest, fresh)
        except dumps.ToolFailed as problem:
            raise BackupProblem(f"{path} could not be put in place ({problem}). Nothing was changed.") from problem
        except DO_NOT_FIT as problem:
            raise BackupProblem(
                f"The rows of {path} do not fit together ({problem}). Nothing was changed."
            ) from problem
        for name in names_before - file_names(models_as_they_stand()):  # they are in the backup just made
            if not leaves(name):
                (Path(settings.MEDIA_ROOT) / name).unlink(missing_ok=True)
        call_command("migrate", interactive=False, verbosity=0)  # PostgreSQL's own dump, if it is an older version's
        return Restored(Contents(manifest.row_count, len(manifest.media), missing=()), earlier)


@contextmanager
def _opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    if not path.is_file():
        raise BackupProblem(f"There is no file {path}.")
    try:
        archive = zipfile.ZipFile(path)
        manifest = Manifest.read(archive)
    except DAMAGED:
        raise BackupProblem(f"{path} is damaged, or no backup of Dryrack; nothing was changed.") from None
    with archive:
        yield archive, manifest


@contextmanager
def _scratch() -> Iterator[Path]:
    """A folder of its owner's beside the data, gone afterwards; what a killed restore left of it goes first."""
    folder = Path(settings.DATA_DIR) / ".restoring"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700, parents=True)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _prove(archive: zipfile.ZipFile, manifest: Manifest, path: Path) -> None:
    """Refuses a backup of a newer version or of the other database, or that is not what its manifest says."""
    if manifest.format > DUMP:
        raise SchemaProblem(
            f"{path} was made by version {manifest.version} of Dryrack, which is newer than this one "
            f"({settings.VERSION}). Update Dryrack first, then restore."
        )
    in_names_of_now(manifest.had, of=str(path))
    if manifest.format == DUMP and manifest.database != connection.vendor:
        theirs, ours = (dumps.NAMES.get(vendor, vendor) for vendor in (manifest.database, connection.vendor))
        raise BackupProblem(
            f"{path} holds the rows as {theirs} keeps them, and this database is {ours}. To move from one to the other, "
            f"restore it on {theirs} and make it anew there with backup --portable."
        )
    if manifest.stranger():
        raise BackupProblem(
            f"{path} names a file outside of the photos' folder: {manifest.stranger()}. It is not used."
        )
    try:
        for name, digest in manifest.parts().items():
            with archive.open(name) as part:
                if copied(part) != digest:
                    raise BackupProblem(f"{path} is damaged: {name} is not what was written. Nothing was changed.")
    except DAMAGED as problem:
        raise BackupProblem(f"{path} is damaged ({problem}). Nothing was changed.") from None


def _make_room(replace: bool, at: datetime, backups: Path) -> tuple[Path | None, set[str]]:
    """Where what is here now was backed up to and the photos it names; None and none where there is no shop yet."""
    if not migrations_had():
        return None, set()
    registry = models_as_they_stand()
    if not any(registry.get_model("shop", name).objects.exists() for name in ("Profile", "User", "Customer")):
        return None, set()
    if not replace:
        raise BackupProblem(
            "This database holds a shop already. Add --replace to put the backup in its place; "
            "what is here now is backed up first."
        )
    backups.mkdir(parents=True, exist_ok=True)
    earlier = backups / f"before-restore-{at:%Y%m%d-%H%M%S-%f}.zip"
    write_backup(earlier, at=at)
    return earlier, file_names(registry)


def _made_ready(archive: zipfile.ZipFile, manifest: Manifest, folder: Path) -> Path:
    """The file that will take the database's place, proven; on SQLite of this version's schema already."""
    fresh = folder / dumps.DUMPS[connection.vendor]
    if manifest.format == DUMP:
        with archive.open(fresh.name) as part, fresh.open("wb") as out:
            copied(part, out)
        dumps.prove_sound(fresh)
    if connection.vendor == "sqlite":
        with dumps.pointed_at(fresh):
            if manifest.format == LINES:
                with connection.constraint_checks_disabled(), transaction.atomic():
                    read_lines(archive, manifest)
            call_command("migrate", interactive=False, verbosity=0)
    return fresh


def _put_in_place(archive: zipfile.ZipFile, manifest: Manifest, fresh: Path) -> None:
    if connection.vendor == "sqlite" or manifest.format == DUMP:
        dumps.put_in_place(fresh)
        return
    with transaction.atomic():
        dumps.clear()
        read_lines(archive, manifest)
        call_command("migrate", interactive=False, verbosity=0)


@contextmanager
def _photos_in_place(archive: zipfile.ZipFile, manifest: Manifest) -> Iterator[None]:
    """Lays the photos beside those that are there; what came goes again if the rows do not follow."""
    came = []
    try:
        for name, part in manifest.media.items():
            target = Path(settings.MEDIA_ROOT) / name
            if not target.exists():
                came.append(target)
            elif _hash_of(target) == part["sha256"]:
                continue
            _lay(archive, name, target)
        yield
    except BaseException:
        for target in came:
            target.unlink(missing_ok=True)
        raise


def _lay(archive: zipfile.ZipFile, name: str, target: Path) -> None:
    """One photo, under its name only when it is whole."""
    target.parent.mkdir(parents=True, exist_ok=True)
    half = target.with_name(f".{target.name}.half")
    with archive.open(f"media/{name}") as source, half.open("wb") as out:
        copied(source, out)
    os.replace(half, target)


def _hash_of(file: Path) -> str:
    with file.open("rb") as there:
        return copied(there)
