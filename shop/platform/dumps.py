"""A database read at one moment and put in another's place, by its own tools; nobody who writes waits for it.

SQLite is copied by `VACUUM INTO` and put in place by its backup API, PostgreSQL by `pg_dump` and `psql`: each puts all
in place in one transaction of its own. Whatever asks rows meanwhile asks those of that moment.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import DatabaseError, connection, transaction

from shop.platform.manifest import BackupProblem
from shop.platform.schema import NOT_KEPT, models_as_they_stand, tables

DUMPS = {"sqlite": "rows.sqlite3", "postgresql": "rows.pgdump"}
NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
PATIENCE_S = 30  # for the turn to write


class ToolFailed(BackupProblem):
    """A tool of PostgreSQL did not do what it was asked, in its own words."""


@contextmanager
def one_moment(folder: Path) -> Iterator[str]:
    """Inside, rows are as they are now, whatever others write. Gives what `dump` needs to know of that moment.

    On SQLite they are those of a copy in `folder`. Raises BackupProblem where the database cannot be read.
    """
    if connection.vendor == "sqlite":
        copy = folder / DUMPS["sqlite"]
        try:
            with connection.cursor() as cursor:
                cursor.execute("VACUUM INTO %s", [str(copy)])
        except DatabaseError as problem:
            raise BackupProblem(f"The database cannot be read ({problem}).") from problem
        with pointed_at(copy):
            yield str(copy)
        return
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        yield cursor.fetchone()[0]


def dump(folder: Path, moment: str) -> None:
    """Write the rows of `one_moment` to their file in `folder`, logins left out. Raises BackupProblem."""
    left_out = tables(models_as_they_stand(), of=NOT_KEPT)
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA secure_delete = ON")  # nothing of them stays between the pages
            for table in left_out:
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")  # noqa: S608 - a model's own table
        return
    ours = [f"--table={table}" for table in [*tables(models_as_they_stand()), "django_migrations"]]
    rows_of = [f"--exclude-table-data={table}" for table in left_out]
    to = f"--file={folder / DUMPS['postgresql']}"
    _postgres(
        "pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={moment}", to, *ours, *rows_of
    )


@contextmanager
def pointed_at(file: Path) -> Iterator[None]:
    """Whatever this thread asks the database meanwhile asks this SQLite file."""
    live = connection.settings_dict  # all threads' own, so it is not written into
    connection.close()
    connection.settings_dict = {**live, "NAME": str(file)}
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict = live


def prove_sound(file: Path) -> None:
    """Raises ValueError or ToolFailed where a dump is damaged inside, or a row names another that is not there."""
    if file.name == DUMPS["sqlite"]:
        try:
            with closing(sqlite3.connect(file)) as rows:
                found = [*rows.execute("PRAGMA integrity_check(1)"), *rows.execute("PRAGMA foreign_key_check")]
        except sqlite3.DatabaseError as problem:
            found = [(str(problem),)]
        if found != [("ok",)]:
            raise ValueError(*found[-1])
        return
    _run("pg_restore", "--no-owner", "--no-privileges", f"--file={_script(file)}", str(file))


def put_in_place(file: Path) -> None:
    """Put a dump that was proven sound in the place of the database, all or nothing. Raises BackupProblem."""
    if connection.vendor == "sqlite":
        live = connection.settings_dict["NAME"]
        connection.close()
        with closing(sqlite3.connect(file)) as rows, closing(sqlite3.connect(live, timeout=PATIENCE_S)) as place:
            try:
                place.execute("BEGIN IMMEDIATE")  # the backup itself would wait for ever
                place.execute("ROLLBACK")
                rows.backup(place)
            except sqlite3.Error as problem:
                raise BackupProblem(f"The database cannot be written ({problem}). Stop the service first.") from None
        return
    away = ["--command=" + statement for statement in (f"SET lock_timeout = '{PATIENCE_S}s'", *_drop_tables())]
    quiet = ["--no-psqlrc", "--quiet", "--output=/dev/null", "--set=ON_ERROR_STOP=1", "--single-transaction"]
    connection.close()
    _postgres("psql", *quiet, *away, f"--file={_script(file)}")


def clear() -> None:
    """Remove every table, to be called in a transaction."""
    with connection.cursor() as cursor:
        for statement in _drop_tables():
            cursor.execute(statement)


def _drop_tables() -> list[str]:
    there = connection.introspection.table_names()
    ours = [*tables(models_as_they_stand()), "django_migrations"]
    return [f"DROP TABLE {connection.ops.quote_name(table)} CASCADE" for table in ours if table in there]


def _script(file: Path) -> Path:
    return file.with_suffix(".sql")


def _postgres(program: str, *options: str) -> None:
    (_, *arguments), environment = connection.client.settings_to_cmd_args_env(connection.settings_dict, list(options))
    _run(program, *arguments, environment=environment)


def _run(program: str, *arguments: str, environment: dict[str, str] | None = None) -> None:
    where = shutil.which(program)
    if where is None:
        raise BackupProblem(
            f"{program} is not installed, which a backup of PostgreSQL needs: apt-get install postgresql-client. "
            "A backup with --portable does without."
        )
    done = subprocess.run(  # noqa: S603 - a tool of PostgreSQL, its arguments ours
        [where, *arguments], env={**os.environ, **(environment or {})}, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise ToolFailed(f"{program} says: {(done.stderr.strip() or 'nothing').splitlines()[-1]}")
