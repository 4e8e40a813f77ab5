"""Alembic migrations with numbered names."""
