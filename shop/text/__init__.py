"""Words, tables, telephone numbers, and how days and minutes are written."""
