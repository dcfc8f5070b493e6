"""Full-text search of the queue: PostgreSQL's own, FTS5 on SQLite. Both are asked for the beginnings of words."""

import unicodedata
from typing import Any

from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BooleanField, QuerySet
from django.db.models.expressions import RawSQL

# Kept beside the words, not computed from them while reading: words that stand in nearly every entry are then as quick
# as rare ones. https://www.postgresql.org/docs/current/textsearch-tables.html, "Creating Indexes"
POSTGRESQL = (
    """ALTER TABLE queue_queueentry ADD COLUMN word_vector tsvector
         GENERATED ALWAYS AS (to_tsvector('simple', words)) STORED""",
    "CREATE INDEX queue_words ON queue_queueentry USING gin (word_vector)",
)
# https://www.sqlite.org/fts5.html, "External Content Tables"
SQLITE = (
    "CREATE VIRTUAL TABLE queue_words USING fts5(words, content='queue_queueentry', content_rowid='interview_id')",
    """CREATE TRIGGER queue_words_new AFTER INSERT ON queue_queueentry BEGIN
         INSERT INTO queue_words(rowid, words) VALUES (new.interview_id, new.words);
       END""",
    """CREATE TRIGGER queue_words_gone AFTER DELETE ON queue_queueentry BEGIN
         INSERT INTO queue_words(queue_words, rowid, words) VALUES ('delete', old.interview_id, old.words);
       END""",
    """CREATE TRIGGER queue_words_changed AFTER UPDATE OF words ON queue_queueentry BEGIN
         INSERT INTO queue_words(queue_words, rowid, words) VALUES ('delete', old.interview_id, old.words);
         INSERT INTO queue_words(rowid, words) VALUES (new.interview_id, new.words);
       END""",
)
IN_POSTGRESQL = "queue_queueentry.word_vector @@ to_tsquery('simple', %s)"
IN_SQLITE = "queue_queueentry.interview_id IN (SELECT rowid FROM queue_words WHERE queue_words MATCH %s)"


def words_of(*texts: str) -> str:
    """The words of some texts as they are kept and asked for: small letters without accents, one space between."""
    decomposed = unicodedata.normalize("NFKD", " ".join(texts).casefold())
    bare = "".join(letter for letter in decomposed if not unicodedata.combining(letter))
    return " ".join("".join(letter if letter.isalnum() else " " for letter in bare).split())


def install(database: BaseDatabaseWrapper) -> None:
    """Make what the search needs, in a database that has no entries yet."""
    with database.cursor() as cursor:
        for statement in SQLITE if database.vendor == "sqlite" else POSTGRESQL:
            cursor.execute(statement)


def found(entries: QuerySet[Any], asked: str) -> QuerySet[Any]:
    """Those entries in which every word asked for begins a word; all, where nothing is asked for."""
    words = words_of(asked).split()
    if not words:
        return entries
    if connection.vendor == "sqlite":
        condition, typed = IN_SQLITE, " ".join(f'"{word}"*' for word in words)
    else:
        condition, typed = IN_POSTGRESQL, " & ".join(f"{word}:*" for word in words)
    return entries.filter(RawSQL(condition, [typed], BooleanField()))  # noqa: S611  what is typed is a parameter
