"""Real PostgreSQL and Redis servers for the tests, and a fresh database for each of their processes."""

from tests.servers.postgresql import fresh_database, postgres
from tests.servers.redis_server import redis

__all__ = ["fresh_database", "postgres", "redis"]
