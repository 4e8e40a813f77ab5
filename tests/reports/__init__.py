"""Consumption."""
