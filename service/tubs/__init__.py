"""Containers of water: tubs, shared water systems, tools, temperatures, water changes, readings."""
