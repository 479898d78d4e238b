"""`python -m rakelight` is the command line."""

from rakelight.cli.own_process import run

run()
