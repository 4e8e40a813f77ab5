"""Tokens, people and settings."""
