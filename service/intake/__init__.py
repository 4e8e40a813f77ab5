"""Shipments: how lots come in."""
