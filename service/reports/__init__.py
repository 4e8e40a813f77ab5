"""Consumption of materials."""
