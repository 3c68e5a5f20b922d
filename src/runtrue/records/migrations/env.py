"""Run by Alembic: works on the connection that ``upgrade`` gives, within its transaction."""

from alembic import context

from runtrue.records.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    transactional_ddl=False,  # the transaction is open already
)
context.run_migrations()
