"""The database's own refusal to change or delete events, seals and fixity checks.

TRUNCATE on PostgreSQL is a privilege to take away (docs/operations.md).
"""

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ImproperlyConfigured

EVENTS = ("audit_event", "audit_seal")
FIXITY = ("files_fixitycheck",)
TABLES = EVENTS + FIXITY
ACTIONS = ("UPDATE", "DELETE")


def install(connection: Any, tables: Sequence[str] = TABLES) -> None:
    """Forbid UPDATE and DELETE on tables that are only ever added to; safe to repeat."""
    with connection.cursor() as cursor:
        for statement in _statements(connection.vendor, tables):
            cursor.execute(statement)


def remove(connection: Any, tables: Sequence[str] = TABLES) -> None:
    """Lift the refusal: for emptying a test database only."""
    with connection.cursor() as cursor:
        for table in tables:
            for action in ACTIONS:
                on = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {_name(table, action)}{on}")


def _name(table: str, action: str) -> str:
    return f"{table}_no_{action.lower()}"


def _statements(vendor: str, tables: Sequence[str]) -> list[str]:
    if vendor == "sqlite":
        return [
            f"CREATE TRIGGER IF NOT EXISTS {_name(table, action)} BEFORE {action} ON {table} "
            "BEGIN SELECT RAISE(ABORT, 'rows of this table are never changed or deleted'); END"
            for table in tables
            for action in ACTIONS
        ]
    if vendor == "postgresql":
        refuse = (
            "CREATE OR REPLACE FUNCTION audit_refuse() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'rows of this table are never changed or deleted'; END $$"
        )
        return [refuse] + [
            f"CREATE OR REPLACE TRIGGER {_name(table, action)} BEFORE {action} ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION audit_refuse()"
            for table in tables
            for action in ACTIONS
        ]
    raise ImproperlyConfigured(f"no append-only trigger is written for {vendor}; use SQLite or PostgreSQL")
