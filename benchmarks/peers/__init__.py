"""The page of lots as it would be written on what a user might pick otherwise, and as bare as it goes.

None of them knows who asks, has filters, cursors or an audit; each gives the same fifty lots with the same
members. They read the database that `DIPLEDGER_DATABASE_URL` names.
"""
