"""Finished steps on disk: each whole or not there, found again by what it depends on."""

import errno
import hashlib
import os
import shutil
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from rakelight.errors import InputError
from rakelight.study.step import Step, step_of

_PART = ".part-"
_PROGRAM = "program"
_NAMES = ("step.json", "curves.npz", "picture.npz")


class StepStore:
    """A folder of finished steps.

    Parameters
    ----------
    folder : Path
        Made when the first step is kept.
    code : str
        The program that makes the steps, from `program`.
    """

    def __init__(self, folder: Path, code: str = "") -> None:
        self.folder, self.code = folder, code

    def has(self, key: str) -> bool:
        """Whether the step of a key is here, whole."""
        try:
            self.step(key)
        except (OSError, ValueError):
            return False
        return True

    def keep(self, key: str, files: dict[str, bytes]) -> None:
        """Keep a step: all its files in one move.

        Raises
        ------
        InputError
            If the disk is full or the folder cannot be written; steps kept before are safe.
        """
        part = self.folder / f"{_PART}{key}"
        try:
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir(parents=True)
            for name, data in files.items():
                with (part / name).open("wb") as file:
                    file.write(data)
            sizes = {name: len(data) for name, data in files.items()}
            (part / _PROGRAM).write_text(self.code)
            (part / "sizes").write_text("".join(f"{n} {s}\n" for n, s in sorted(sizes.items())))
            shutil.rmtree(self.folder / key, ignore_errors=True)
            os.replace(part, self.folder / key)
        except OSError as error:
            shutil.rmtree(part, ignore_errors=True)
            raise InputError(self.said(error)) from None
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise

    def said(self, error: OSError) -> str:
        """What to say when a step could not be kept."""
        why = "the disk is full" if error.errno == errno.ENOSPC else f"{error.strerror}"
        return (
            f"{self.folder}: a step could not be kept ({why}). Finished steps are safe: make "
            "room and run the same command again; it goes on from there."
        )

    def step(self, key: str) -> Step:
        """Read a step back.

        Raises
        ------
        OSError, ValueError
            If it is not here, or not whole.
        """
        home = self.folder / key
        for line in (home / "sizes").read_text().splitlines():
            name, size = line.split()
            if name not in _NAMES or (home / name).stat().st_size != int(size):
                raise ValueError(f"{home}: {name} is not whole")
        return step_of({name: (home / name).read_bytes() for name in _NAMES[:2]})

    def picture(self, key: str) -> bytes:
        """Bytes of a step's picture."""
        return (self.folder / key / "picture.npz").read_bytes()

    def prune(self) -> int:
        """Remove what another program kept, or was still writing: no sweep can use it again.

        Returns
        -------
        int
            Number of steps removed. Those of this program stay, of other sweeps too.
        """
        count = 0
        for home in sorted(self.folder.iterdir()) if self.folder.is_dir() else ():
            try:
                own = (home / _PROGRAM).read_text() == self.code
            except OSError:
                own = False
            if not own and home.is_dir():
                shutil.rmtree(home, ignore_errors=True)
                count += not home.name.startswith(_PART)
        return count

    def bytes_kept(self) -> int:
        """Size of all that is kept."""
        return sum(path.stat().st_size for path in self.folder.rglob("*") if path.is_file())


@lru_cache(maxsize=1)
def program() -> str:
    """Version of this program with a digest of its code: a step of another one is stale."""
    try:
        said = version("rakelight")
    except PackageNotFoundError:
        said = ""
    digest = hashlib.blake2b(digest_size=12)
    home = Path(__file__).resolve().parents[1]
    for room in ("build", "light", "measure", "picture", "read", "scene", "study"):
        for path in sorted((home / room).rglob("*.py")):
            digest.update(f"{path.relative_to(home).as_posix()}\n".encode())
            digest.update(path.read_bytes())
    return f"{said} {digest.hexdigest()}"
