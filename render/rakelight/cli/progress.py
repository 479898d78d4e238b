"""What is being done, on the error stream: a moving line for people, nothing for pipes."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

from rakelight.cli.compiled_ahead import compiled_ahead


@contextmanager
def steps() -> Iterator[Callable[[str], None]]:
    """Show the step in progress; on a terminal only, so that logs stay clean.

    Whatever has to be compiled on the way is compiled in two processes.
    """
    from rakelight.light.kernels.compile import CACHE_MISSING

    if CACHE_MISSING:
        click.echo(
            "No folder can be written for compiled code, so it is compiled anew each time "
            "(about half a minute). Set NUMBA_CACHE_DIR to a folder that you may write to.",
            err=True,
        )
    with compiled_ahead():
        if not sys.stderr.isatty():
            yield lambda step: None
            return
        from rich.console import Console

        console = Console(stderr=True)
        with console.status("reading") as status:
            yield lambda step: status.update(step)
