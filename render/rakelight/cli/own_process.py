"""The command line as a process of its own: what starts quickly and ends at once."""

import gc
import os
import sys

from rakelight.cli import main

#: Objects made before the interpreter looks for rubbish among them. What imports and scenes make
#: is none: with the usual 700 a still spent a tenth of a second on looking.
_SELDOM = 100_000


def run() -> None:
    """Run a command and end the process with its exit code.

    Files are whole and closed by then. The interpreter is not taken apart: to free hundreds of
    megabytes array by array just before the system does took half a second of a still.
    """
    gc.set_threshold(_SELDOM, 50, 100)
    code = 0
    try:
        main(prog_name="rakelight")
    except SystemExit as done:
        code = _code(done.code)
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError:  # nobody reads any more
        code = code or 1
    os._exit(code)


def _code(code: str | int | None) -> int:
    if isinstance(code, str):
        print(code, file=sys.stderr)
        return 1
    return code or 0
