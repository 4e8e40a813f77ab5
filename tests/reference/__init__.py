"""What Dipledger computes, held against values that nobody here made.

One test item is one outside value (parametrize), marked with `outside(kind, source)`; the run prints how many
of each kind agreed. A value that disagrees is written down as a disagreement, never tuned away.
"""
