"""Everything in one file: rows of either database, and the photos.

The file is a zip: `manifest.json`, one file of JSON lines a table under `rows/`, and the photos under `media/`.
Values are written so that reading them gives the same value again: exact numbers as text, days and times with all
their digits, PDFs as base64. The manifest holds the count and SHA-256 of each part and the migrations the rows belong
to, so that a file made before a migration, or by the other kind of database, is read all the same.
Sessions, login attempts and Django's own lists of permissions are left out.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import uuid
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

from django.apps.registry import Apps
from django.conf import settings
from django.db import connection, models, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.models.fields.files import FieldFile

FORMAT = 1
MANIFEST = "manifest.json"
LEFT_OUT = frozenset({"sessions", "contenttypes", "auth", "axes", "staticfiles", "messages"})
AT_ONCE = 200  # rows held in memory; a row may carry a PDF


class BackupProblem(RuntimeError):
    """A backup cannot be written or read, in a sentence for whoever asked for it."""


@dataclass(frozen=True)
class Contents:
    """What a backup holds: rows and photos by number, and names of photos whose files were not there."""

    rows: int
    photos: int
    missing: tuple[str, ...]


def write_backup(path: Path, *, at: datetime) -> Contents:
    """Write all rows and photos to a new file, readable by its owner only. Raises BackupProblem.

    The file appears under its name only when it is whole. Rows are those of one moment, also while others write.
    """
    if path.exists():
        raise BackupProblem(f"{path} is there already; choose another name, a backup is never overwritten.")
    if not path.parent.is_dir():
        raise BackupProblem(f"There is no folder {path.parent}; make it first.")
    registry, applied = rows_as_they_stand()
    handle, unfinished = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")  # mode 0600
    try:
        with os.fdopen(handle, "wb") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            manifest: dict[str, Any] = {
                "format": FORMAT,
                "software": "dryrack",
                "version": settings.VERSION,
                "made_at": at.isoformat(),
                "database": connection.vendor,
                "migrations": sorted(f"{app}.{name}" for app, name in applied),
                "rows": {},
                "media": {},
            }
            names: set[str] = set()
            with _one_moment():
                for model in kept_models(registry):
                    manifest["rows"][model._meta.label_lower] = _write_rows(archive, model, names)
            missing = _write_media(archive, sorted(names), manifest["media"])  # after it: a photo is never changed
            archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
        os.replace(unfinished, path)
    except BaseException:
        Path(unfinished).unlink(missing_ok=True)
        raise
    rows = sum(part["count"] for part in manifest["rows"].values())
    return Contents(rows=rows, photos=len(manifest["media"]), missing=tuple(missing))


def rows_as_they_stand() -> tuple[Apps, set[tuple[str, str]]]:
    """The models as the database has them now, and the migrations it has had; its code may be ahead of it."""
    loader = MigrationExecutor(connection).loader
    applied = {key for key in loader.applied_migrations if key[0] not in LEFT_OUT}
    strangers = sorted(f"{app}.{name}" for app, name in applied if (app, name) not in loader.graph.nodes)
    if strangers:
        raise BackupProblem(f"The database is from a newer version of Dryrack (it has {strangers[0]}). Update first.")
    known = [key for key in loader.applied_migrations if key in loader.graph.nodes]
    return loader.project_state(known).apps, applied


def kept_models(registry: Apps) -> list[type[models.Model]]:
    """The models whose rows belong to the user, tables between two models too, in a steady order."""
    kept = [
        model
        for model in registry.get_models(include_auto_created=True)
        if model._meta.app_label not in LEFT_OUT and model._meta.managed and not model._meta.proxy
    ]
    return sorted(kept, key=lambda model: model._meta.label_lower)


@contextmanager
def _one_moment() -> Iterator[None]:
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def _write_rows(archive: zipfile.ZipFile, model: type[models.Model], names: set[str]) -> dict[str, Any]:
    """One table as JSON lines; adds the names of its files to `names`."""
    part = f"rows/{model._meta.label_lower}.jsonl"
    count, running = 0, hashlib.sha256()
    with archive.open(part, "w", force_zip64=True) as out:
        for row in model._base_manager.order_by("pk").iterator(chunk_size=AT_ONCE):
            values = {field.attname: _portable(field, row, names) for field in model._meta.concrete_fields}
            line = json.dumps(values, default=_as_text).encode() + b"\n"
            running.update(line)
            out.write(line)
            count += 1
    return {"count": count, "sha256": running.hexdigest()}


def _portable(field: models.Field[Any, Any], row: models.Model, names: set[str]) -> Any:
    value = field.value_from_object(row)
    if isinstance(value, FieldFile):
        if value.name:
            names.add(value.name)
        return value.name or ""
    if isinstance(field, models.BinaryField):
        return None if value is None else field.value_to_string(row)
    return value


def _as_text(value: Any) -> str:
    """What JSON has no word for. Times keep their microseconds, numbers all their digits."""
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Decimal | uuid.UUID):
        return str(value)
    raise TypeError(f"a {type(value).__name__} cannot be backed up yet")


def _write_media(archive: zipfile.ZipFile, names: list[str], listed: dict[str, Any]) -> list[str]:
    """The photos that rows name; returns those whose files are gone."""
    missing = []
    for name in names:
        source = Path(settings.MEDIA_ROOT) / name
        if not source.is_file():
            missing.append(name)
            continue
        entry = zipfile.ZipInfo(f"media/{name}", date_time=(1980, 1, 1, 0, 0, 0))
        entry.compress_type = zipfile.ZIP_STORED  # photos are packed already
        with source.open("rb") as file, archive.open(entry, "w", force_zip64=True) as out:
            listed[name] = {"sha256": copied(file, out), "bytes": source.stat().st_size}
    return missing


def copied(source: IO[bytes], target: IO[bytes] | None = None) -> str:
    """Copies to the end and gives the SHA-256 of what was copied; without a target it only reads."""
    running = hashlib.sha256()
    while chunk := source.read(1 << 20):
        running.update(chunk)
        if target is not None:
            target.write(chunk)
    return running.hexdigest()
