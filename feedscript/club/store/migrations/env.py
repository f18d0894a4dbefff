"""What Alembic runs: the migrations, on the connection that :mod:`~feedscript.club.store.migrate`
holds, within its transaction."""

from alembic import context

from feedscript.club.store import library_tables, live_tables, log_tables
from feedscript.club.store.people import tables
from feedscript.club.store.tables import METADATA

_KNOWN = (library_tables.LIBRARY_TEXT, log_tables.EVENT, live_tables.PRESENCE, tables.PERSON)
assert all(table.metadata is METADATA for table in _KNOWN)
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=False,  # the transaction is not Alembic's to end
)
context.run_migrations()
