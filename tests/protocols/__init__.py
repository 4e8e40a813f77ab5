"""Protocols and mixing sheets."""
