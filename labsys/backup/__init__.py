"""Back-up and restore: the whole lab in one file that checks itself, for SQLite and PostgreSQL alike."""
