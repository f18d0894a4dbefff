"""The tables made, or brought from an older version to this one."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect, text

from feedscript.club.refusals import STORE_UNUSABLE
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.schema import CLUB_STORE_ID

#: Two servers that start at once on one PostgreSQL: one brings the tables up, the other waits.
_LOCK = CLUB_STORE_ID


def migrate(engine: Engine) -> None:
    """Bring the store to this version, in one transaction. Raises FeedscriptError for a newer one
    and for a database of something else, SQLAlchemyError as the database does."""
    settings = Config()
    settings.set_main_option("script_location", "feedscript.club.store:migrations")
    known = {one.revision for one in ScriptDirectory.from_config(settings).walk_revisions()}
    with engine.begin() as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        _see_that_it_is_ours(connection, known)
        settings.attributes["connection"] = connection
        command.upgrade(settings, "head")
        if engine.dialect.name == "postgresql":
            _settle_restored(connection)
        else:
            connection.exec_driver_sql(f"PRAGMA application_id = {CLUB_STORE_ID}")


def _see_that_it_is_ours(connection: Connection, known: set[str]) -> None:
    version = MigrationContext.configure(connection).get_current_revision()
    name = connection.engine.url.render_as_string(hide_password=True)
    if version is None and inspect(connection).get_table_names():
        raise FeedscriptError(
            STORE_UNUSABLE.report(
                "the database holds tables of something else, no club's store",
                device=name,
                help="name another one with --store",
            )
        )
    if version is not None and version not in known:
        raise FeedscriptError(
            STORE_UNUSABLE.report(
                f"the store is of version {version!r}, which this feedscript does not know",
                device=name,
                help="use the newer feedscript that wrote it",
            )
        )


def _settle_restored(connection: Connection) -> None:
    """Rows from a backup of another PostgreSQL carry its transactions' numbers, which may lie ahead
    of this one's and would not count before it reaches them. Those rows are all committed."""
    connection.execute(
        text(
            "UPDATE event SET xact = 0 WHERE (SELECT max(xact) FROM event)"
            " >= pg_snapshot_xmax(pg_current_snapshot())::text::bigint"
        )
    )
