"""Rows read, written and changed by ready statements: what Django would send, worked out once and not each time.

For the few places where many small transactions wait for each other, such as the stock ledger. A row is prepared by its
own fields, so its columns hold just what `save` would put there; nothing listens to these rows being saved, and no
field of theirs may fill itself in (`auto_now`). Moments must be aware, and days dates: they are not read from text
here.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, TypeVar

from django.db import DEFAULT_DB_ALIAS, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.base import ModelState

Row = TypeVar("Row", bound=models.Model)


def made(model: type[Row], **values: Any) -> Row:
    """A new row, not stored yet, of which every column is given by the name of its field, a related row as it is."""
    row = model.__new__(model)
    row._state = ModelState()
    kept, cached = row.__dict__, row._state.fields_cache
    for name, attname in _attnames(model):
        value = values[name] if attname != "id" else None
        if attname != name:
            cached[name] = value
            value = None if value is None else value.pk
        kept[attname] = value
    return row


@functools.cache
def _attnames(model: type[models.Model]) -> list[tuple[str, str]]:
    return [(field.name, field.attname) for field in model._meta.local_concrete_fields]


class Column(NamedTuple):
    """Where a field's value stands in a row, and how it goes to the database."""

    attname: str
    plain: type | None  # a value of just this type goes as it is, and so does None
    prepare: Callable[[Any, BaseDatabaseWrapper], Any]


class Written(NamedTuple):
    """A statement that writes, and the columns of its parameters in their order."""

    sql: str
    columns: tuple[Column, ...]


class Pen:
    """A cursor on the connection of the running transaction, for the statements of one act; not kept beyond it."""

    def __init__(self) -> None:
        self.connection: BaseDatabaseWrapper = connections[DEFAULT_DB_ALIAS]
        self.cursor = self.connection.cursor()

    def insert(self, row: models.Model) -> None:
        """Store a new row and give it its key."""
        ready = _insert(type(row), self.connection.vendor)
        self.cursor.execute(ready.sql, _of_row(row, ready.columns, self.connection))
        row.pk = self.cursor.fetchone()[0]
        row._state.adding, row._state.db = False, DEFAULT_DB_ALIAS

    def put(self, model: type[models.Model], **values: Any) -> None:
        """Store a new row of which every column is given and nobody needs the object."""
        ready = _insert(model, self.connection.vendor)
        named = [values[column.attname] for column in ready.columns]
        self.cursor.execute(ready.sql, _prepared(named, ready.columns, self.connection))
        self.cursor.fetchone()

    def change(self, row: models.Model, *names: str) -> None:
        """Store some fields of a row that is there."""
        ready = _change(type(row), names, self.connection.vendor)
        self.cursor.execute(ready.sql, [*_of_row(row, ready.columns, self.connection), row.pk])

    def add_to(self, model: type[models.Model], figures: Mapping[str, Any], *, where: Mapping[str, Any]) -> int:
        """Add figures to those of the rows that are alike in the fields `where`; says how many rows there were."""
        ready = _add_to(model, tuple(figures), tuple(where), self.connection.vendor)
        values = [*figures.values(), *where.values()]
        self.cursor.execute(ready.sql, _prepared(values, ready.columns, self.connection))
        return int(self.cursor.rowcount)

    def read(
        self, model: type[Row], name: str, asked: Callable[[], models.QuerySet[Row]], values: Sequence[Any]
    ) -> list[Row]:
        """The rows of a query whose statement is always the same but for `values`.

        `asked` is called once for each `name`. What the query annotates stands on the rows by its name.
        """
        known = (name, self.connection.vendor)
        ready = _ready.get(known)
        if ready is None:
            ready = _ready[known] = _read(asked(), self.connection)
        self.cursor.execute(ready.sql, values)
        return [_row(model, ready, list(found), self.connection) for found in self.cursor.fetchall()]


def _of_row(row: models.Model, columns: Sequence[Column], connection: BaseDatabaseWrapper) -> list[Any]:
    kept = row.__dict__
    return _prepared([kept[column.attname] for column in columns], columns, connection)


def _prepared(values: Sequence[Any], columns: Sequence[Column], connection: BaseDatabaseWrapper) -> list[Any]:
    return [
        value if value is None or type(value) is plain else prepare(value, connection)
        for value, (_, plain, prepare) in zip(values, columns, strict=True)
    ]


_QUICK: dict[type, Callable[[Any, BaseDatabaseWrapper], Any]] = {
    models.DateTimeField: lambda moment, connection: connection.ops.adapt_datetimefield_value(moment),
    models.DateField: lambda day, connection: connection.ops.adapt_datefield_value(day),
}


def _column(field: models.Field[Any, Any]) -> Column:
    target = field.target_field if isinstance(field, models.ForeignKey) else field
    if isinstance(target, (models.CharField, models.TextField)):
        plain: type | None = str
    else:
        plain = int if isinstance(target, models.AutoField) else None
    return Column(field.attname, plain, _QUICK.get(type(target), target.get_db_prep_value))


@functools.cache
def _insert(model: type[models.Model], vendor: str) -> Written:
    quote = connections[DEFAULT_DB_ALIAS].ops.quote_name
    fields = [field for field in model._meta.local_concrete_fields if not field.primary_key]
    names = ", ".join(quote(field.column) for field in fields)
    marks = ", ".join("%s" for _ in fields)
    key = quote(model._meta.pk.column)
    sql = f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({marks}) RETURNING {key}"  # noqa: S608
    return Written(sql, tuple(_column(field) for field in fields))


@functools.cache
def _change(model: type[models.Model], names: tuple[str, ...], vendor: str) -> Written:
    quote = connections[DEFAULT_DB_ALIAS].ops.quote_name
    fields = _fields(model, names)
    sets = ", ".join(f"{quote(field.column)} = %s" for field in fields)
    key = quote(model._meta.pk.column)
    sql = f"UPDATE {quote(model._meta.db_table)} SET {sets} WHERE {key} = %s"  # noqa: S608
    return Written(sql, tuple(_column(field) for field in fields))


@functools.cache
def _add_to(model: type[models.Model], names: tuple[str, ...], where: tuple[str, ...], vendor: str) -> Written:
    quote = connections[DEFAULT_DB_ALIAS].ops.quote_name
    fields = _fields(model, (*names, *where))
    columns = [quote(field.column) for field in fields]
    sets = ", ".join(f"{column} = {column} + %s" for column in columns[: len(names)])
    alike = " AND ".join(f"{column} = %s" for column in columns[len(names) :])
    sql = f"UPDATE {quote(model._meta.db_table)} SET {sets} WHERE {alike}"  # noqa: S608
    return Written(sql, tuple(_column(field) for field in fields))


def _fields(model: type[models.Model], names: Sequence[str]) -> list[models.Field[Any, Any]]:
    return [model._meta.get_field(name) for name in names]  # type: ignore[misc]


class Read(NamedTuple):
    """A statement that reads, the attributes that its columns become, and what turns a column into its attribute."""

    sql: str
    names: list[str]
    converters: list[tuple[int, Callable[..., Any], Any]]


_ready: dict[tuple[str, str], Read] = {}


def _read(asked: models.QuerySet[Any], connection: BaseDatabaseWrapper) -> Read:
    compiler = asked.query.get_compiler(connection=connection)
    sql, _ = compiler.as_sql()
    columns = [column for column, _, _ in compiler.select]
    annotated = {at: name for name, at in compiler.annotation_col_map.items()}
    names = [annotated.get(at) or column.target.attname for at, column in enumerate(columns)]
    found = compiler.get_converters(columns).items()
    return Read(sql, names, [(at, convert, column) for at, (converts, column) in found for convert in converts])


def _row(model: type[Row], ready: Read, values: list[Any], connection: BaseDatabaseWrapper) -> Row:
    """What `from_db` makes, but without asking every field in turn."""
    for at, convert, column in ready.converters:
        values[at] = convert(values[at], column, connection)
    row = model.__new__(model)
    row.__dict__.update(zip(ready.names, values, strict=True))
    row._state = ModelState()
    row._state.adding, row._state.db = False, DEFAULT_DB_ALIAS
    return row
