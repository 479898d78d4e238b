"""`python -m rakelight` is the command line."""

from rakelight.cli import main

main(prog_name="rakelight")
