"""Rows as JSON lines, one file a table, for the way from one kind of database to the other.

Values are written so that reading them gives the same value again: exact numbers as text, days and times with all
their digits, PDFs as base64. They are read with the models of the migrations they were written under.
"""

from __future__ import annotations

import hashlib
import io
import json
import uuid
import zipfile
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.core.management.color import no_style
from django.db import connection, models
from django.db.models.fields.files import FieldFile

from shop.platform.manifest import Manifest
from shop.platform.schema import in_names_of_now, kept_models, migrate_to

AT_ONCE = 200  # rows held in memory; a row may carry a PDF


def write_lines(archive: zipfile.ZipFile, manifest: Manifest, model: type[models.Model]) -> dict[str, Any]:
    """Add the rows of one table; gives their number and the SHA-256 of their file."""
    count, running = 0, hashlib.sha256()
    with archive.open(manifest.rows_part(model._meta.label_lower), "w", force_zip64=True) as out:
        for row in model._base_manager.order_by("pk").iterator(chunk_size=AT_ONCE):
            values = {field.attname: _portable(field, row) for field in model._meta.concrete_fields}
            line = json.dumps(values, default=_as_text).encode() + b"\n"
            running.update(line)
            out.write(line)
            count += 1
    return {"count": count, "sha256": running.hexdigest()}


def read_lines(archive: zipfile.ZipFile, manifest: Manifest) -> None:
    """Put the rows into a database without tables, in the schema they were written under.

    Raises DatabaseError, FieldError, TypeError, ValueError or ValidationError where they do not fit together.
    """
    registry = migrate_to(in_names_of_now(manifest.had, of="The backup"))
    connection.check_constraints()  # with it PostgreSQL waits again with those that migrations asked at once
    for label in manifest.rows:
        model = registry.get_model(label)
        fields = {field.attname: field for field in model._meta.concrete_fields}
        with archive.open(manifest.rows_part(label)) as part:
            for line in io.TextIOWrapper(part, encoding="utf-8"):
                values = {name: _value(fields[name], value) for name, value in json.loads(line).items()}
                model(**values).save_base(raw=True, force_insert=True)
    connection.check_constraints()  # PostgreSQL alters no table while checks wait
    with connection.cursor() as cursor:  # PostgreSQL numbers rows from a counter that rows put in by hand do not move
        for statement in connection.ops.sequence_reset_sql(no_style(), kept_models(registry)):
            cursor.execute(statement)


def _portable(field: models.Field[Any, Any], row: models.Model) -> Any:
    value = field.value_from_object(row)
    if isinstance(value, FieldFile):
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


def _value(field: models.Field[Any, Any], value: Any) -> Any:
    if value is None or isinstance(field, models.JSONField | models.FileField):
        return value
    if isinstance(field, models.ForeignKey):
        return field.target_field.to_python(value)
    return field.to_python(value)
