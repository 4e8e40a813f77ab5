"""Inventory and dispatches."""
