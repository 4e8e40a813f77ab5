"""Tubs, temperatures, tools."""
