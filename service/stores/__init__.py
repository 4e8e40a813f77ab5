"""Dip materials: batches, the stock ledger, first expired first out."""
