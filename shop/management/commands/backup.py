"""Everything in one file: `manage.py backup FILE`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shop.platform.backups import write_backup
from shop.platform.manifest import BackupProblem
from shop.platform.schema import SchemaProblem


class Command(BaseCommand):
    help = "Writes all rows and photos to one new file, to be read back by `restore`."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--portable",
            action="store_true",
            help="rows as JSON lines, to move between SQLite and PostgreSQL; slower, the database's own way is usual",
        )

    def handle(self, *args: Any, file: Path, portable: bool, **options: Any) -> None:
        try:
            kept = write_backup(file, at=timezone.now(), portable=portable)
        except (BackupProblem, SchemaProblem, OSError) as problem:
            raise CommandError(str(problem)) from None
        self.stdout.write(f"Backed up {kept.rows} rows and {kept.photos} photos to {file}")
        for name in kept.missing:
            self.stderr.write(f"The file of a photo is gone, its row was backed up without it: {name}")
