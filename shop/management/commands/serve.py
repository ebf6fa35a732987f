"""Start the service on the user's own data: back up before a migration, migrate, work out anew what an earlier version
derived, gather static files, serve.
"""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from shop.platform.schema import SchemaProblem, migrations_had
from shop.platform.updating import bring_up

THREADS = 8


def pending_migrations() -> tuple[bool, bool]:
    """(the database has been used before, there are migrations it has not had). Raises CommandError."""
    try:
        migrations_had()
    except SchemaProblem as problem:
        raise CommandError(str(problem)) from None
    executor = MigrationExecutor(connection)
    used = bool(executor.loader.applied_migrations)
    return used, bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def prepare(stdout: Any) -> None:
    """Bring the database and the static files up to this version, after a backup where there is something to lose."""
    used, pending = pending_migrations()
    if used and pending:
        stamp = datetime.now().astimezone().strftime("%Y%m%d-%H%M%S")
        target = settings.DATA_DIR / "backups" / f"before-migration-{stamp}.zip"
        target.parent.mkdir(exist_ok=True)
        call_command("backup", str(target), stdout=stdout)
    call_command("migrate", interactive=False, verbosity=0)  # also where nothing waits: it keeps the names of now
    for said in bring_up(at=timezone.now()):
        stdout.write(said)
    call_command("collectstatic", interactive=False, verbosity=0)


def behind_a_proxy() -> dict[str, Any]:
    """With an https ORIGIN a proxy on this machine ends the encryption and says so.

    Otherwise nobody's word is taken.
    """
    if not settings.HTTPS:
        return {}
    return {"trusted_proxy": "127.0.0.1", "trusted_proxy_headers": {"x-forwarded-proto"}}


class Command(BaseCommand):
    help = "Start the service (one process, several threads), reached at ORIGIN."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--listen", help="address:port to listen on; by default ORIGIN's own")

    def handle(self, *args: Any, listen: str | None, **options: Any) -> None:
        from waitress import create_server

        prepare(self.stdout)
        from shop.wsgi import application  # only now: it lists the gathered static files once, when it is made

        origin = urlsplit(settings.ORIGIN)
        where = listen or ("127.0.0.1:8000" if settings.HTTPS else f"{origin.hostname}:{origin.port or 80}")
        try:
            server = create_server(application, listen=where, threads=THREADS, ident="", **behind_a_proxy())
        except OSError as problem:
            raise CommandError(
                f"{where} cannot be used ({problem.strerror}). Is the service already running there? "
                "Set ORIGIN=http://127.0.0.1:8001 to use another port."
            ) from None
        self.stdout.write(f"Dryrack is at {settings.ORIGIN}  (stop with Ctrl-C)")
        sys.stdout.flush()
        server.run()
