"""Where outputs go: a folder that can be written, files written whole."""

from collections.abc import Mapping
from pathlib import Path

from rakelight.errors import InputError
from rakelight.tell.files import write_whole


def output_folder(out: str) -> Path:
    """Make the folder if need be, before any work is done.

    Raises
    ------
    InputError
        If it cannot be made or written to.
    """
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / ".rakelight-probe"
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        raise InputError(
            f"{out}: cannot write there ({error.strerror}). Choose another folder with --out."
        ) from None
    return folder


def write_all(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write every file whole, in the order given."""
    for name, data in files.items():
        write_whole(folder / name, data)
