"""`python -m service` is the command `dipledger`."""

from service.cli import main

main()
