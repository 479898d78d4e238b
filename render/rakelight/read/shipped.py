"""Where the scenes, textures and photometric files that come with Rakelight lie."""

from pathlib import Path

from rakelight.errors import InputError

_PACKAGE = Path(__file__).resolve().parents[1]


def shipped_folder(kind: str) -> Path:
    """Folder of what is shipped.

    Parameters
    ----------
    kind : str
        ``scenes``, ``textures`` or ``shared``; ``photometry`` is found inside ``shared``.

    Returns
    -------
    Path
        In the installed package, else (an editable install carries no copies) in the
        repository.

    Raises
    ------
    InputError
        If neither has it.
    """
    for home in (_PACKAGE / "shipped", _PACKAGE.parents[1]):
        for folder in (home / kind, home / "shared" / kind):
            if folder.is_dir():
                return folder
    raise InputError(f"{kind}: this folder should come with Rakelight and is missing. Reinstall.")
