"""Trials: treatments compared on like units with a control, read and learnt from."""
