"""What every verb stands on: transaction, roles, refusals, journal, backups, updates."""
