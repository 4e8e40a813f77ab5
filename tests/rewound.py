"""A PostgreSQL database that is taken back to its template's contents in place.

Copying a template anew for every test writes ten megabytes of files each time, which on a busy disk takes a
second or two; taking back only the rows that a test wrote takes a few milliseconds.
"""

import psycopg
from sqlalchemy.engine import make_url

# What of a database is not rows: tables, columns, constraints, triggers and functions of the schema.
SHAPE = """
SELECT md5(string_agg(part, chr(10) ORDER BY part)) FROM (
  SELECT format('column %s.%s %s %s', c.relname, a.attname, a.atttypid, a.attnotnull)
    FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
    WHERE c.relnamespace = 'public'::regnamespace AND a.attnum > 0
  UNION ALL SELECT format('constraint %s %s', conname, convalidated)
    FROM pg_constraint WHERE connamespace = 'public'::regnamespace
  UNION ALL SELECT format('trigger %s %s %s', tgrelid, tgname, tgenabled)
    FROM pg_trigger WHERE NOT tgisinternal
  UNION ALL SELECT format('function %s %s', proname, prosrc)
    FROM pg_proc WHERE pronamespace = 'public'::regnamespace
) AS parts(part)
"""

# A copy of every table that holds rows, and how to put them back where a transaction since wrote any.
KEEP = """
DROP SCHEMA IF EXISTS kept CASCADE;
CREATE SCHEMA kept;
CREATE TABLE kept.tables AS
  SELECT relname::text AS name, 0::bigint AS held, 0::bigint AS last_seen
  FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r';
DO $$
DECLARE one record;
BEGIN
  FOR one IN SELECT name FROM kept.tables LOOP
    EXECUTE format('CREATE TABLE kept.%I AS TABLE public.%I', 'of_' || one.name, one.name);
    EXECUTE format('UPDATE kept.tables SET held = (SELECT count(*) FROM public.%I) WHERE name = %L',
                   one.name, one.name);
  END LOOP;
  UPDATE kept.tables SET last_seen = pg_current_xact_id()::text::bigint;
END $$;
CREATE FUNCTION kept.take_back() RETURNS void LANGUAGE plpgsql AS $$
DECLARE one record; changed boolean;
BEGIN
  SET LOCAL session_replication_role = replica;  -- neither foreign keys nor append-only triggers
  FOR one IN SELECT * FROM kept.tables LOOP
    IF one.held = 0 THEN
      EXECUTE format('SELECT EXISTS (SELECT FROM public.%I)', one.name) INTO changed;
    ELSE
      EXECUTE format('SELECT count(*) <> $1 OR bool_or(xmin::text::bigint > $2) FROM public.%I', one.name)
        INTO changed USING one.held, one.last_seen;
    END IF;
    IF changed THEN
      EXECUTE format('DELETE FROM public.%I', one.name);
      EXECUTE format('INSERT INTO public.%I SELECT * FROM kept.%I', one.name, 'of_' || one.name);
      UPDATE kept.tables SET last_seen = pg_current_xact_id()::text::bigint WHERE name = one.name;
    END IF;
  END LOOP;
END $$;
"""
OTHERS = """
SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity
WHERE datname = current_database() AND pid <> pg_backend_pid()
"""


class Rewound:
    """The database `name` on a server, made from `template` at first use."""

    def __init__(self, server: str, name: str, template: str) -> None:
        self._server, self._name, self._template = server, name, template
        self._shape = ""

    def address(self) -> str:
        """The address of the database with the template's contents and nobody connected."""
        if not self._shape or not self._taken_back():
            self._make()
        return named(self._server, self._name)

    def keep(self, name: str) -> None:
        """Make the database `name` of the present contents, to be a template."""
        with self._connected() as connection:
            connection.execute(OTHERS)
        run(self._server, f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        run(self._server, f'CREATE DATABASE "{name}" TEMPLATE "{self._name}" STRATEGY file_copy')

    def _make(self) -> None:
        run(self._server, f'DROP DATABASE IF EXISTS "{self._name}" WITH (FORCE)')
        run(self._server, f'CREATE DATABASE "{self._name}" TEMPLATE "{self._template}" STRATEGY file_copy')
        with self._connected() as connection:
            connection.execute(KEEP)
            self._shape = _shape(connection)

    def _taken_back(self) -> bool:
        """Put the rows back; False when more than rows was changed."""
        with self._connected() as connection:
            connection.execute(OTHERS)
            if _shape(connection) != self._shape:
                return False
            connection.execute("SELECT kept.take_back()")
            return True

    def _connected(self) -> "psycopg.Connection[tuple[str]]":
        url = make_url(named(self._server, self._name)).set(drivername="postgresql")
        return psycopg.connect(url.render_as_string(hide_password=False), autocommit=True)


def named(server: str, name: str) -> str:
    """The address of another database of the same server."""
    return make_url(server).set(database=name).render_as_string(hide_password=False)


def run(server: str, statement: str) -> None:
    """Run a statement that must not be in a transaction."""
    url = make_url(server).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(statement)


def _shape(connection: "psycopg.Connection[tuple[str]]") -> str:
    found = connection.execute(SHAPE).fetchone()
    assert found is not None
    return found[0]
