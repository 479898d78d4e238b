"""What every test has in common with a command: matrix products on one core, so the same bytes."""

from rakelight.cli.algebra_threads import keep_algebra_on_one_core

keep_algebra_on_one_core()
