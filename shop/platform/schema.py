"""Which migrations a database, or a backup, has had, in the names that this version knows them by.

The first release made one migration of each app's earlier ones. A database that had all of them has had that one; one
that stopped between them needs the version before first, and one that had others belongs to a newer version.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.apps.registry import Apps
from django.core import checks
from django.db import connection, models
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

Key = tuple[str, str]

DJANGOS = frozenset({"contenttypes", "auth"})  # lists that are the same in every database
NOT_KEPT = frozenset({"sessions", "axes"})  # logins: of people who may be others after a restore


class SchemaProblem(RuntimeError):
    """Rows that this version cannot bring up to date, in a sentence that says what to do."""


def in_names_of_now(had: Iterable[Key], *, of: str) -> set[Key]:
    """Our own apps' migrations among `had`, those that were made one by its name. Raises SchemaProblem."""
    loader = MigrationLoader(None)
    names = {key for key in had if key[0] not in DJANGOS | NOT_KEPT}
    for key, migration in loader.replacements.items():
        replaced = {(app, name) for app, name in migration.replaces}
        if key not in names and replaced & names and (missing := sorted(replaced - names)):
            raise SchemaProblem(
                f"{of} stopped half way through the updates of an earlier Dryrack: {'.'.join(missing[0])} is missing. "
                "Bring it up to date with the last version before this one first (its make run does), then use this one."
            )
        if key in names or replaced <= names:
            names = names - replaced | {key}
    if strangers := sorted(names - set(loader.disk_migrations)):
        raise SchemaProblem(
            f"{of} is from a version of Dryrack newer than this one (it has {'.'.join(strangers[0])}). "
            "Update Dryrack first."
        )
    return names


def migrations_had() -> set[Key]:
    """Those of the database, none if it is empty. Raises SchemaProblem."""
    return in_names_of_now(MigrationRecorder(connection).applied_migrations(), of="The database")


def models_as_they_stand() -> Apps:
    """The models as the database has them now; the code may be ahead of it. Raises SchemaProblem."""
    migrations_had()  # with what it refuses, Django's own loader ends in a traceback
    loader = MigrationLoader(connection)
    had = [key for key in loader.applied_migrations if key in loader.graph.nodes]
    return loader.project_state(had).apps


def migrate_to(names: set[Key]) -> Apps:
    """Bring a database without tables to exactly these migrations of ours; gives the models of then."""
    executor = MigrationExecutor(connection)
    executor.migrate([key for key in names if not names & set(_children(executor, key))])
    return models_as_they_stand()


def _children(executor: MigrationExecutor, key: Key) -> list[Key]:
    return [node.key for node in executor.loader.graph.node_map[key].children if node.key[0] == key[0]]


def tables(registry: Apps, *, of: frozenset[str] | None = None) -> list[str]:
    """The names of the models' tables, those between two models too; only of the apps named, if any are."""
    return sorted({model._meta.db_table for model in _managed(registry) if of is None or model._meta.app_label in of})


def kept_models(registry: Apps) -> list[type[models.Model]]:
    """The models whose rows belong to the user, tables between two models too, in a steady order."""
    kept = [model for model in _managed(registry) if model._meta.app_label not in DJANGOS | NOT_KEPT]
    return sorted(kept, key=lambda model: model._meta.label_lower)


def _managed(registry: Apps) -> list[type[models.Model]]:
    every = registry.get_models(include_auto_created=True)
    return [model for model in every if model._meta.managed and not model._meta.proxy]


def can_be_migrated(app_configs: Any, databases: Any = None, **_: Any) -> list[checks.CheckMessage]:
    """Django's check of a database, asked by `migrate` before it begins."""
    try:
        if databases:
            migrations_had()
    except SchemaProblem as problem:
        return [checks.Error(str(problem), id="shop.E001")]
    return []
