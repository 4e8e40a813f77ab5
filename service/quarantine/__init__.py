"""The quarantine clock, hatch-out and release day."""
