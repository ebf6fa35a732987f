"""Everything in one file: `manage.py backup FILE`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shop.platform.backups import BackupProblem, write_backup


class Command(BaseCommand):
    help = "Writes all rows and photos to one new file, to be read back by `restore` on either database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        try:
            kept = write_backup(file, at=timezone.now())
        except (BackupProblem, OSError) as problem:
            raise CommandError(str(problem)) from None
        self.stdout.write(f"Backed up {kept.rows} rows and {kept.photos} photos to {file}")
        for name in kept.missing:
            self.stderr.write(f"The file of a photo is gone, its row was backed up without it: {name}")
