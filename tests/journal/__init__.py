"""The journal."""
