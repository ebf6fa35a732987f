"""Rows read, written and changed by ready statements: what Django would send, worked out once and not each time.

For the few places where many small transactions wait for each other, such as the stock ledger. A row is prepared by its
own fields, so its columns hold just what `save` would put there; nothing listens to these rows being saved.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from django.db import connection, models

Row = TypeVar("Row", bound=models.Model)


def insert(row: models.Model) -> None:
    """Store a new row and give it its key."""
    sql, fields = _insert(type(row), connection.vendor)
    with connection.cursor() as cursor:
        cursor.execute(sql, [field.get_db_prep_save(field.pre_save(row, True), connection) for field in fields])
        row.pk = cursor.fetchone()[0]
    row._state.adding, row._state.db = False, "default"


@functools.cache
def _insert(model: type[models.Model], vendor: str) -> tuple[str, list[models.Field[Any, Any]]]:
    quote = connection.ops.quote_name
    fields = [field for field in model._meta.local_concrete_fields if not field.primary_key]
    names = ", ".join(quote(field.column) for field in fields)
    marks = ", ".join("%s" for _ in fields)
    key = quote(model._meta.pk.column)
    return f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({marks}) RETURNING {key}", fields  # noqa: S608


def change(row: models.Model, *names: str) -> None:
    """Store some fields of a row that is there."""
    sql, fields = _change(type(row), names, connection.vendor)
    with connection.cursor() as cursor:
        cursor.execute(sql, [*(one.get_db_prep_save(getattr(row, one.attname), connection) for one in fields), row.pk])


@functools.cache
def _change(model: type[models.Model], names: tuple[str, ...], vendor: str) -> tuple[str, list[models.Field[Any, Any]]]:
    quote = connection.ops.quote_name
    fields = [model._meta.get_field(name) for name in names]
    sets = ", ".join(f"{quote(field.column)} = %s" for field in fields)
    key = quote(model._meta.pk.column)
    return f"UPDATE {quote(model._meta.db_table)} SET {sets} WHERE {key} = %s", fields  # type: ignore[return-value]  # noqa: S608


def add_to(row: models.Model, names: tuple[str, ...], *, where: tuple[str, ...]) -> int:
    """Add the row's figures to those of the rows that are alike in the fields `where`; says how many there were."""
    sql, fields = _add_to(type(row), names, where, connection.vendor)
    with connection.cursor() as cursor:
        cursor.execute(sql, [one.get_db_prep_save(getattr(row, one.attname), connection) for one in fields])
        return int(cursor.rowcount)


@functools.cache
def _add_to(
    model: type[models.Model], names: tuple[str, ...], where: tuple[str, ...], vendor: str
) -> tuple[str, list[models.Field[Any, Any]]]:
    quote = connection.ops.quote_name
    fields = [model._meta.get_field(name) for name in (*names, *where)]
    columns = [quote(field.column) for field in fields]
    sets = ", ".join(f"{column} = {column} + %s" for column in columns[: len(names)])
    alike = " AND ".join(f"{column} = %s" for column in columns[len(names) :])
    return f"UPDATE {quote(model._meta.db_table)} SET {sets} WHERE {alike}", fields  # type: ignore[return-value]  # noqa: S608


_ready: dict[tuple[str, str], str] = {}


def read(model: type[Row], name: str, asked: Callable[[], models.QuerySet[Row]], values: Sequence[Any]) -> list[Row]:
    """The rows of a query whose statement is always the same but for `values`: `asked` is called once for each `name`."""
    known = (name, connection.vendor)
    if known not in _ready:
        _ready[known] = asked().query.sql_with_params()[0]
    return list(model._default_manager.raw(_ready[known], values))
