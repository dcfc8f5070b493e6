"""The whole database as files, taken while the site runs, and put back: SQLite by its own backup, PostgreSQL by COPY.

COPY needs no program beside the site and no matching version of one. What is taken is one moment: SQLite copies a
snapshot, PostgreSQL reads everything in one REPEATABLE READ transaction.
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from django.core.management import call_command
from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper
from psycopg import sql

Row = tuple[Any, ...]
Migrations = dict[str, list[str]]


class Reader(Protocol):
    """Asks the moment that was taken, not the database as it has moved on."""

    def rows(self, query: str) -> list[Row]: ...


@dataclass(frozen=True)
class Taken:
    """What lies in the folder: the kind of database, its migrations and how many rows each table has."""

    vendor: str
    migrations: Migrations
    counts: dict[str, int]


@contextmanager
def taken_into(folder: Path) -> Iterator[tuple[Taken, Reader]]:
    """Write the database into `folder`; the reader answers from that same moment while this is open."""
    with _sqlite(folder) if connection.vendor == "sqlite" else _postgresql(folder) as reader:
        tables = _tables(reader)
        counts = {table: reader.rows(f'SELECT count(*) FROM "{table}"')[0][0] for table in tables}  # noqa: S608  names of our own tables
        yield Taken(connection.vendor, _migrations(reader), counts), reader


def put_back(folder: Path) -> None:
    """Make this site's empty database what was taken into `folder`."""
    if connection.vendor == "sqlite":
        _put_back_sqlite(folder)
    else:
        call_command("migrate", interactive=False, verbosity=0)
        _put_back_postgresql(folder)


def is_empty() -> bool:
    """Whether nobody has worked with this database: no table yet, or neither a person nor an event."""
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        return not any(
            table in present and _count(cursor, table) for table in ("accounts_user", "audit_event", "files_storedfile")
        )


def bytes_now() -> int:
    """About how much room the database takes."""
    if connection.vendor == "sqlite":
        name = Path(connection.settings_dict["NAME"])
        return name.stat().st_size if name.exists() else 0
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return cursor.fetchone()[0]


def counts() -> dict[str, int]:
    """How many rows each table has now."""
    with connection.cursor() as cursor:
        return {table: _count(cursor, table) for table in sorted(connection.introspection.table_names())}


def _count(cursor: CursorWrapper, table: str) -> int:
    cursor.execute(f'SELECT count(*) FROM "{table}"')  # noqa: S608  names of our own tables
    return cursor.fetchone()[0]


def _migrations(reader: Reader) -> Migrations:
    applied: Migrations = {}
    for app, name in reader.rows("SELECT app, name FROM django_migrations ORDER BY app, name"):
        applied.setdefault(app, []).append(name)
    return applied


def _tables(reader: Reader) -> list[str]:
    if isinstance(reader, _SQLiteFile):
        query = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
    else:
        query = "SELECT tablename FROM pg_tables WHERE schemaname = current_schema() ORDER BY tablename"
    return [name for (name,) in reader.rows(query)]


# SQLite

SQLITE = "intake.sqlite3"


@dataclass(frozen=True)
class _SQLiteFile:
    database: sqlite3.Connection

    def rows(self, query: str) -> list[Row]:
        return self.database.execute(query).fetchall()


@contextmanager
def _sqlite(folder: Path) -> Iterator[_SQLiteFile]:
    with (
        closing(sqlite3.connect(f"file:{connection.settings_dict['NAME']}?mode=ro", uri=True, timeout=30)) as source,
        closing(sqlite3.connect(folder / SQLITE)) as copy,
    ):
        source.backup(copy)
        # One plain file: with a write-ahead log beside it, only both together would be the database.
        copy.execute("PRAGMA journal_mode=DELETE")
        yield _SQLiteFile(copy)


def _put_back_sqlite(folder: Path) -> None:
    target = connection.settings_dict["NAME"]
    connection.close()
    with (
        closing(sqlite3.connect(f"file:{folder / SQLITE}?mode=ro&immutable=1", uri=True)) as copy,
        closing(sqlite3.connect(target, timeout=30)) as database,
    ):
        copy.backup(database)


# PostgreSQL

TABLES = "tables.json"
BLOCK = 1024 * 1024


@dataclass(frozen=True)
class _OneTransaction:
    cursor: CursorWrapper

    def rows(self, query: str) -> list[Row]:
        self.cursor.execute(query)
        return self.cursor.fetchall()


@contextmanager
def _postgresql(folder: Path) -> Iterator[_OneTransaction]:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        reader = _OneTransaction(cursor)
        columns = _columns(reader)
        for table, names in columns.items():
            _copy_out(cursor, table, names, folder / f"{table}.copy")
        sequences = reader.rows(
            "SELECT sequencename, last_value FROM pg_sequences"
            " WHERE schemaname = current_schema() AND last_value IS NOT NULL ORDER BY sequencename"
        )
        told = {"columns": columns, "sequences": dict(sequences)}
        (folder / TABLES).write_text(json.dumps(told, indent=1))
        yield reader


def _columns(reader: Reader) -> dict[str, list[str]]:
    """The columns of each table that hold values of their own, in order."""
    columns: dict[str, list[str]] = {table: [] for table in _tables(reader)}
    query = (
        "SELECT table_name, column_name FROM information_schema.columns"
        " WHERE table_schema = current_schema() AND is_generated = 'NEVER' ORDER BY table_name, ordinal_position"
    )
    for table, column in reader.rows(query):
        if table in columns:
            columns[table].append(column)
    return columns


def _copy_out(cursor: CursorWrapper, table: str, columns: list[str], path: Path) -> None:
    with path.open("wb") as file, cursor.copy(_copy("COPY {} ({}) TO STDOUT", table, columns)) as rows:
        for block in rows:
            file.write(block)


def _put_back_postgresql(folder: Path) -> None:
    told = json.loads((folder / TABLES).read_text())
    # Foreign keys are checked at the end of the transaction, so that the order of the tables is of no matter.
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        # Only what migrations wrote is there; a role without TRUNCATE on the events needs none, since they are empty.
        full = [table for table in told["columns"] if _count(cursor, table)]
        if full:
            cursor.execute(sql.SQL("TRUNCATE {} CASCADE").format(sql.SQL(", ").join(map(sql.Identifier, full))))
        for table, columns in told["columns"].items():
            with (
                (folder / f"{table}.copy").open("rb") as file,
                cursor.copy(_copy("COPY {} ({}) FROM STDIN", table, columns)) as rows,
            ):
                while block := file.read(BLOCK):
                    rows.write(block)
        for sequence, last in told["sequences"].items():
            cursor.execute("SELECT setval(%s::regclass, %s)", [f'"{sequence}"', last])


def _copy(statement: str, table: str, columns: list[str]) -> sql.Composed:
    names = sql.SQL(", ").join(map(sql.Identifier, columns))
    return sql.SQL(statement).format(sql.Identifier(table), names)
