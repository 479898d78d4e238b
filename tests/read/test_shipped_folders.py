"""Where shipped files are found."""

import pytest

from rakelight.errors import InputError
from rakelight.read import shipped
from rakelight.read.shipped import shipped_folder


@pytest.mark.parametrize("kind", ["scenes", "textures", "shared", "photometry"])
def test_every_kind_is_found(kind):
    assert shipped_folder(kind).is_dir()


def test_the_installed_copy_comes_first(tmp_path, monkeypatch):
    package = tmp_path / "render" / "rakelight"
    (package / "shipped" / "textures").mkdir(parents=True)
    (tmp_path / "textures").mkdir()
    (tmp_path / "shared" / "photometry").mkdir(parents=True)
    monkeypatch.setattr(shipped, "_PACKAGE", package)
    assert shipped_folder("textures") == package / "shipped" / "textures"
    assert shipped_folder("photometry") == tmp_path / "shared" / "photometry"
    with pytest.raises(InputError, match="scenes"):
        shipped_folder("scenes")
