"""How Alembic reaches the database and the models."""

from typing import Literal

from alembic import context
from sqlalchemy import create_engine, event, pool

from service import models
from service.core.db import UtcDateTime


def render_item(type_: str, obj: object, _autogen: object) -> str | Literal[False]:
    return "sa.DateTime(timezone=True)" if type_ == "type" and isinstance(obj, UtcDateTime) else False


def run() -> None:
    url = context.config.attributes["url"]
    sqlite = url.startswith("sqlite")
    wait_ms = context.config.attributes["lock_wait_ms"]
    patience = {} if sqlite else {"options": f"-c lock_timeout={wait_ms}ms"}
    engine = create_engine(url, poolclass=pool.NullPool, connect_args=patience)
    if sqlite:
        # Rebuilding a table with foreign keys on would delete the rows that point to it.
        event.listen(engine, "connect", lambda dbapi, _: dbapi.execute("PRAGMA foreign_keys=OFF"))
    with engine.connect() as connection:
        context.configure(
            connection=connection,
            target_metadata=models.Base.metadata,
            render_as_batch=sqlite,
            compare_type=True,
            render_item=render_item,
            transaction_per_migration=True,
        )
        with context.begin_transaction():
            context.run_migrations()
        if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first():
            raise RuntimeError("A migration left rows that point to nothing.")


run()
