"""The Dipledger service: rooms along the path of a lot, see DEVELOPERS.md."""
