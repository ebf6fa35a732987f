"""Everything in one file: the rows of one moment, as the database's own tool writes them, and the photos.

With `portable` rows are JSON lines, which either kind of database reads.
"""

from __future__ import annotations

import os
import tempfile
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.apps.registry import Apps
from django.conf import settings
from django.db import connection, models

from shop.platform import dumps
from shop.platform.lines import write_lines
from shop.platform.manifest import DUMP, LINES, BackupProblem, Manifest, copied, leaves
from shop.platform.schema import kept_models, migrations_had, models_as_they_stand


@dataclass(frozen=True)
class Contents:
    """What a backup holds: rows and photos by number, and names of photos whose files were not there."""

    rows: int
    photos: int
    missing: tuple[str, ...]


def write_backup(path: Path, *, at: datetime, portable: bool = False) -> Contents:
    """Write all rows and photos to a new file, readable by its owner only. Raises BackupProblem or SchemaProblem.

    The file appears under its name only when it is whole.
    """
    if path.exists():
        raise BackupProblem(f"{path} is there already; choose another name, a backup is never overwritten.")
    if not path.parent.is_dir():
        raise BackupProblem(f"There is no folder {path.parent}; make it first.")
    manifest = Manifest(
        format=LINES if portable else DUMP,
        version=settings.VERSION,
        made_at=at.isoformat(),
        database=connection.vendor,
        migrations=sorted(".".join(key) for key in migrations_had()),
    )
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=f".{path.name}.") as folder:  # mode 0700
        unfinished = Path(folder) / path.name
        unfinished.touch(mode=0o600)
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as archive:
            names = _write_rows(archive, manifest, Path(folder))
            missing = _write_media(archive, sorted(names), manifest)  # after it: a photo is never changed
            manifest.write(archive)
        os.replace(unfinished, path)
    return Contents(rows=manifest.row_count, photos=len(manifest.media), missing=tuple(missing))


def _write_rows(archive: zipfile.ZipFile, manifest: Manifest, folder: Path) -> set[str]:
    """Adds the rows; gives the names of the files that they name."""
    with dumps.one_moment(folder) as moment:
        registry = models_as_they_stand()
        names, count = file_names(registry), 0
        for model in kept_models(registry):
            if manifest.format == LINES:
                manifest.rows[model._meta.label_lower] = write_lines(archive, manifest, model)
            count += model._base_manager.count()
        if manifest.format == DUMP:
            dumps.dump(folder, moment)
    if manifest.format == DUMP:
        part = dumps.DUMPS[connection.vendor]
        with (folder / part).open("rb") as file, archive.open(part, "w", force_zip64=True) as out:
            manifest.rows[part] = {"count": count, "sha256": copied(file, out)}
    return names


def file_names(registry: Apps) -> set[str]:
    """The photos and sheets that rows name."""
    return {
        name
        for model in kept_models(registry)
        for field in model._meta.concrete_fields
        if isinstance(field, models.FileField)
        for name in model._base_manager.values_list(field.attname, flat=True)
        if name
    }


def _write_media(archive: zipfile.ZipFile, names: list[str], manifest: Manifest) -> list[str]:
    """The photos that rows name; returns those whose files are gone, or are none of ours."""
    missing = []
    for name in names:
        source = Path(settings.MEDIA_ROOT) / name
        if leaves(name) or not source.is_file():
            missing.append(name)
            continue
        entry = zipfile.ZipInfo(f"media/{name}", date_time=(1980, 1, 1, 0, 0, 0))
        entry.compress_type = zipfile.ZIP_STORED  # photos are packed already
        with source.open("rb") as file, archive.open(entry, "w", force_zip64=True) as out:
            manifest.media[name] = {"sha256": copied(file, out), "bytes": source.stat().st_size}
    return missing
