"""What Alembic runs: the migrations, on the connection that :mod:`~feedscript.club.store.migrate`
holds, within its transaction."""

from alembic import context

from feedscript.club.store import live_tables, log_tables
from feedscript.club.store.tables import METADATA

assert log_tables.EVENT.metadata is live_tables.PRESENCE.metadata is METADATA
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=False,  # the transaction is not Alembic's to end
)
context.run_migrations()
