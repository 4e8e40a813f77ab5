"""Tokens and settings."""
