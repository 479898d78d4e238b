"""The command line: one file a command; nothing imports it."""

import click


@click.group()
@click.version_option(package_name="rakelight")
def main() -> None:
    """Light walls and ceilings with linear luminaires: pictures and numbers from one scene file."""
