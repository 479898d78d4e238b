"""`new`: write a commented scene to start from."""

import click


@click.command()
@click.argument("file", type=click.Path(), default="scene.toml")
def new(file: str) -> None:
    """Write a commented starter scene to FILE (scene.toml if it is left out).

    It uses a texture and a photometric file that come with Rakelight and works as it stands.
    An existing file is never overwritten.
    """
    from pathlib import Path

    from rakelight.tell.starter import write_starter

    write_starter(Path(file))
    click.echo(f"{file}: a scene to start from. Next: rakelight check {file}")
