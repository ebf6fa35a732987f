"""Whether the service is well, for whoever watches it: no login, and no question to anybody's data."""

from __future__ import annotations

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache

from shop.web.access import PUBLIC, open_to


@open_to(PUBLIC)
@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """200 when the database answers and has had every migration, otherwise 503; both say what is what."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
        database, pending = "ok", [f"{migration.app_label}.{migration.name}" for migration, _ in waiting]
    except DatabaseError:
        database, pending = "does not answer", []
    well = database == "ok" and not pending
    said = {"well": well, "database": database, "pending_migrations": pending, "version": settings.VERSION}
    return JsonResponse(said, status=200 if well else 503)
