"""The whole of a house in one file: written, read back, refused when it is not whole."""
