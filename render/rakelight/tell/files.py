"""Files out: written whole or not at all."""

import os
import tempfile
from pathlib import Path

from rakelight.errors import InputError


def write_whole(path: Path, data: bytes) -> None:
    """Write `data` to `path` in one step: a reader sees the old file or the new one.

    Parameters
    ----------
    path : Path
        Where to; its folder must exist.
    data : bytes
        The file's content.

    Raises
    ------
    InputError
        If the folder cannot be written or the disk is full; nothing is left behind.
    """
    try:
        handle, temporary = tempfile.mkstemp(prefix=".rakelight-", dir=path.parent)
    except OSError as error:
        raise InputError(
            f"{path.parent}: cannot write there ({error.strerror}). "
            "Choose a folder that you may write to with --out."
        ) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        # mkstemp gives 0600; an output is an ordinary file, so follow the user's umask
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(temporary, 0o666 & ~mask)
        os.replace(temporary, path)
    except OSError as error:
        Path(temporary).unlink(missing_ok=True)
        raise InputError(f"{path}: could not be written ({error.strerror}).") from None
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
