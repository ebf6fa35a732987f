"""A backup read back: proven whole first, then put in the database's place all at once or not at all.

Rows are read with the models of the migrations they were written under; what came since is then applied, in the same
transaction. So a backup of an older version is read by a newer one, never the other way round.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from django.apps.registry import Apps
from django.conf import settings
from django.core.exceptions import FieldError, ValidationError
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connection, models, transaction
from django.db.migrations.executor import MigrationExecutor

from shop.platform.backups import (
    FORMAT,
    LEFT_OUT,
    MANIFEST,
    BackupProblem,
    Contents,
    copied,
    kept_models,
    rows_as_they_stand,
    write_backup,
)

NOT_EMPTIED = frozenset({"contenttypes", "auth"})  # Django's own lists, the same in every database


@dataclass(frozen=True)
class Restored:
    """What was put in place, and where what was there before is kept, if there was anything."""

    contents: Contents
    earlier: Path | None
    earlier_photos: Path | None


def restore_backup(path: Path, *, replace: bool, at: datetime, backups: Path) -> Restored:
    """Put a backup's rows and photos in the place of this database's. Raises BackupProblem; nothing is changed then.

    A database that holds a shop is only replaced with `replace`, after a backup of it into the folder `backups`.
    """
    with _opened(path) as (archive, manifest):
        _prove(archive, manifest, path)
        if not MigrationExecutor(connection).loader.applied_migrations:
            call_command("migrate", interactive=False, verbosity=0)
        earlier = _make_room(replace, at, backups)
        try:
            with _photos_in_place(archive, manifest) as old_photos, _whole_or_not_at_all():
                _put_rows_in_place(archive, manifest)
        except (DatabaseError, ValidationError, FieldError, TypeError, ValueError) as problem:
            raise BackupProblem(
                f"The rows of {path} do not fit together ({problem}). Nothing was changed."
            ) from problem
        if old_photos.exists() and (earlier or not any(old_photos.iterdir())):
            shutil.rmtree(old_photos)  # they are in the backup just made
        rows = sum(part["count"] for part in manifest["rows"].values())
        contents = Contents(rows=rows, photos=len(manifest["media"]), missing=())
        return Restored(contents, earlier, old_photos if old_photos.exists() else None)


@contextmanager
def _opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, dict[str, Any]]]:
    if not path.is_file():
        raise BackupProblem(f"There is no file {path}.")
    damaged = BackupProblem(f"{path} is damaged, or no backup of Dryrack; nothing was changed.")
    try:
        archive = zipfile.ZipFile(path)
        manifest = json.loads(archive.read(MANIFEST))
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, EOFError):
        raise damaged from None
    with archive:
        if not isinstance(manifest, dict) or manifest.get("software") != "dryrack":
            raise damaged
        yield archive, manifest


def _prove(archive: zipfile.ZipFile, manifest: dict[str, Any], path: Path) -> None:
    """Refuses a backup that is newer than this version, or that is not what its manifest says."""
    known = {f"{app}.{name}" for app, name in MigrationExecutor(connection).loader.graph.nodes}
    newer = sorted(set(manifest.get("migrations", ())) - known)
    if manifest.get("format", 0) > FORMAT or newer:
        raise BackupProblem(
            f"{path} was made by version {manifest.get('version')} of Dryrack, which is newer than this one "
            f"({settings.VERSION}). Update Dryrack first, then restore."
        )
    parts = {f"rows/{label}.jsonl": part["sha256"] for label, part in manifest["rows"].items()}
    parts |= {f"media/{name}": part["sha256"] for name, part in manifest["media"].items()}
    for name in manifest["media"]:
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            raise BackupProblem(f"{path} names a file outside of the photos' folder: {name}. It is not used.")
    try:
        for name, digest in parts.items():
            with archive.open(name) as part:
                if copied(part) != digest:
                    raise BackupProblem(f"{path} is damaged: {name} is not what was written. Nothing was changed.")
    except (KeyError, zipfile.BadZipFile, OSError, EOFError, NotImplementedError) as problem:
        raise BackupProblem(f"{path} is damaged ({problem}). Nothing was changed.") from None


def _make_room(replace: bool, at: datetime, backups: Path) -> Path | None:
    """Where what is here now was backed up to; None where there is no shop yet."""
    registry, _ = rows_as_they_stand()
    if not any(registry.get_model("shop", name).objects.exists() for name in ("Profile", "User", "Customer")):
        return None
    if not replace:
        raise BackupProblem(
            "This database holds a shop already. Add --replace to put the backup in its place; "
            "what is here now is backed up first."
        )
    backups.mkdir(parents=True, exist_ok=True)
    earlier = backups / f"before-restore-{at:%Y%m%d-%H%M%S-%f}.zip"
    write_backup(earlier, at=at)
    return earlier


@contextmanager
def _whole_or_not_at_all() -> Iterator[None]:
    """One transaction for rows and migrations; every reference is checked before it is kept."""
    with connection.constraint_checks_disabled(), transaction.atomic():
        yield
        connection.check_constraints()


def _put_rows_in_place(archive: zipfile.ZipFile, manifest: dict[str, Any]) -> None:
    _empty()
    executor = MigrationExecutor(connection)
    theirs = {tuple(name.split(".", 1)) for name in manifest["migrations"]}
    executor.migrate(_last_of_each_app(executor, theirs))
    executor = MigrationExecutor(connection)
    state = executor.loader.project_state(list(executor.loader.applied_migrations))
    for label in manifest["rows"]:
        _read_rows(archive, state.apps.get_model(label), label)
    connection.check_constraints()  # PostgreSQL alters no table while checks wait
    executor.migrate(executor.loader.graph.leaf_nodes())
    _go_on_counting(MigrationExecutor(connection).loader.project_state().apps)


def _empty() -> None:
    """Removes every row, sessions and login attempts too: they belong to people who may be others now."""
    registry, _ = rows_as_they_stand()
    tables = [
        model._meta.db_table
        for model in registry.get_models(include_auto_created=True)
        if model._meta.app_label not in NOT_EMPTIED and model._meta.managed and not model._meta.proxy
    ]
    with connection.cursor() as cursor:
        for table in tables:
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")  # noqa: S608 - a model's own table
    connection.check_constraints()


def _last_of_each_app(executor: MigrationExecutor, theirs: set[tuple[str, ...]]) -> list[tuple[str, str | None]]:
    """The targets that bring the database to exactly the migrations of the backup."""
    graph = executor.loader.graph
    apps = {app for app, _ in graph.nodes if app not in LEFT_OUT}
    targets: list[tuple[str, str | None]] = []
    for app in sorted(apps):
        own = [key for key in theirs if key[0] == app]
        last = [key for key in own if not any(key in graph.node_map[other].parents for other in own)]
        targets += [(app, key[1]) for key in last] or [(app, None)]
    return targets


def _read_rows(archive: zipfile.ZipFile, model: type[models.Model], label: str) -> None:
    fields = {field.attname: field for field in model._meta.concrete_fields}
    with archive.open(f"rows/{label}.jsonl") as part:
        for line in io.TextIOWrapper(part, encoding="utf-8"):
            values = json.loads(line)
            row = model(**{name: _value(fields[name], value) for name, value in values.items()})
            row.save_base(raw=True, force_insert=True)


def _value(field: models.Field[Any, Any], value: Any) -> Any:
    if value is None or isinstance(field, models.JSONField | models.FileField):
        return value
    if isinstance(field, models.ForeignKey):
        return field.target_field.to_python(value)
    return field.to_python(value)


def _go_on_counting(registry: Apps) -> None:
    """PostgreSQL numbers rows from a counter that rows put in by hand do not move."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), kept_models(registry)):
            cursor.execute(statement)


@contextmanager
def _photos_in_place(archive: zipfile.ZipFile, manifest: dict[str, Any]) -> Iterator[Path]:
    """Unpacks the photos beside the folder in use and changes the two over; back again if the rows do not follow.

    Gives the name that the old folder then has.
    """
    media = Path(settings.MEDIA_ROOT)
    fresh, aside = (media.with_name(f"{media.name}.{word}-{os.getpid()}") for word in ("restoring", "before-restore"))
    fresh.mkdir(parents=True)
    try:
        for name in manifest["media"]:
            target = fresh / name
            target.parent.mkdir(parents=True, exist_ok=True)
            with archive.open(f"media/{name}") as source, target.open("wb") as out:
                copied(source, out)
        if media.exists():
            media.rename(aside)
        fresh.rename(media)
        try:
            yield aside
        except BaseException:
            shutil.rmtree(media)
            if aside.exists():
                aside.rename(media)
            raise
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
