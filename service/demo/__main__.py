"""`python -m service.demo` is the command `dipledger demo`."""

from service.demo.playing import demo

demo()
