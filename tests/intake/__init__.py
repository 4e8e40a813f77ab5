"""Intake."""
