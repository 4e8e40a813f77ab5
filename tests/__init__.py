"""Tests; they read as specifications."""
