"""The command line: one file a command; nothing imports it."""

import os
import sys
from typing import Any

import click

from rakelight.cli.algebra_threads import keep_algebra_on_one_core
from rakelight.cli.check import check
from rakelight.cli.compare import compare
from rakelight.cli.contact_sheet import contact_sheet
from rakelight.cli.freed_memory import keep_freed_memory
from rakelight.cli.mockup import mockup
from rakelight.cli.new import new
from rakelight.cli.photometry import photometry
from rakelight.cli.plate import plate
from rakelight.cli.reconcile import reconcile
from rakelight.cli.relief import relief
from rakelight.cli.section import section
from rakelight.cli.still import still
from rakelight.cli.suggest import suggest
from rakelight.cli.sweep import sweep
from rakelight.errors import InputError


class Commands(click.Group):
    """A group that says bad input in one line a fault (exit 2) and owns up to its own (exit 1)."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; errors become lines, never a traceback (unless RAKELIGHT_DEBUG is set)."""
        keep_algebra_on_one_core()
        keep_freed_memory()
        try:
            return super().invoke(ctx)
        except InputError as error:
            for fault in error.faults:
                click.echo(fault, err=True)
            sys.exit(2)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except KeyboardInterrupt:
            click.echo("Interrupted; files that were finished are whole.", err=True)
            sys.exit(130)
        except Exception as error:
            if os.environ.get("RAKELIGHT_DEBUG"):
                raise
            click.echo(
                f"Rakelight failed ({type(error).__name__}): {error}\n"
                "Set RAKELIGHT_DEBUG=1 to see where.",
                err=True,
            )
            sys.exit(1)


@click.group(cls=Commands)
@click.version_option(package_name="rakelight")
def main() -> None:
    """Light walls and ceilings with linear luminaires: pictures and numbers from one scene file."""


for command in (
    still,
    compare,
    check,
    new,
    photometry,
    relief,
    plate,
    section,
    sweep,
    suggest,
    mockup,
    reconcile,
    contact_sheet,
):
    main.add_command(command)
