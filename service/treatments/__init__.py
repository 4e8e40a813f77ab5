"""Carrying a protocol out step by step; water changes with their re-dose."""
