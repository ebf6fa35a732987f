"""A backup put in place: `manage.py restore FILE [--replace]`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shop.platform.manifest import BackupProblem
from shop.platform.restoring import restore_backup
from shop.platform.schema import SchemaProblem
from shop.platform.updating import bring_up


class Command(BaseCommand):
    help = "Reads a backup back, whole or not at all. Stop the service first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--replace", action="store_true", help="put it in the place of a shop that is here, after backing that up"
        )

    def handle(self, *args: Any, file: Path, replace: bool, **options: Any) -> None:
        try:
            done = restore_backup(file, replace=replace, at=timezone.now(), backups=settings.DATA_DIR / "backups")
        except (BackupProblem, SchemaProblem, OSError) as problem:
            raise CommandError(str(problem)) from None
        if done.earlier:
            self.stdout.write(f"What was here before is kept in {done.earlier}")
        for said in bring_up(at=timezone.now()):
            self.stdout.write(said)
        self.stdout.write(f"Restored {done.contents.rows} rows and {done.contents.photos} photos from {file}")
