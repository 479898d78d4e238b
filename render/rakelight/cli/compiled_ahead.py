"""A second process that compiles kernels while this one still needs others.

Numba compiles one kernel at a time in a process. Where its cache is empty, half a minute of that
stands between a user and the first picture; a second process that fills the same cache takes a
third off: a first still of the shipped ticket hall needs 27 s on two cores instead of 42 s. With
compiled kernels at hand it is not started.
"""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

#: Arguments of the kernels that every still calls, in the order in which another process may best
#: take them off its hands. A dot stands for an axis of an array, ! for one that is read only.
USUAL = {
    "light.kernels.blocked_line.blocked_line": "float64.. float64.. int32. float32.. float64.. "
    "bool float64 float64.. float64 bool float32..! int64 float64... bool.. int32. int32. int32. "
    "float32.. int32. float64. int64 float32.",
    "light.kernels.point_line.point_line": "float32.. float32.. float32.. float32 float32..! "
    "int32 int32 float32.",
    "picture.kernels.raster.raster": "float32.. float32.. int32.. int32. bool. float32.. "
    "float32.. float64. float64 int64 float64.. int64 int16.. float32.. float32.. int32..",
    "picture.kernels.cover.cover": "int32.. int16.. int64 int64. int64 float32.. int32.. float64. "
    "int16.. float32..",
    "picture.kernels.shade.reflectance_seen": "int16..! float32..! float32..! int64 int64 "
    "uint16.. int64.. float64 float64 bool uint16...",
    "picture.kernels.shade.shade_mapped": "int16..! float32..! float32..! int64 int64 float32... "
    "float64 float64 uint16... float32. float32...",
    "picture.kernels.detail.sharpen": "int16..! float32..! float32..! int64 int64 float32.. "
    "int32.. int32.. float64 float64 float32... float64. bool float64 float32...",
    "picture.kernels.gloss.add_gloss": "int16..! float32..! float32..! int64 int64 float32.. "
    "float32... float64 float64 float64. float32.. float64.. float64.. float64 float32..! int64 "
    "float64 float64 float64. bool float32...",
    "picture.kernels.gloss.add_surround": "int16..! float32..! float32..! int64 int64 float32.. "
    "float32... float64 float64 float64. float64. float32.. float64. float32...",
    "picture.kernels.shade.gather": "int16..! float32..! float32..! int64 int64 float32.. "
    "float64 float64 int64 float32..",
    "picture.kernels.shade.split": "int16..! float32... int64 int64 int64.! int64 int16..! "
    "float32...",
    "picture.kernels.shade.resolve": "float32... int64 float32...",
    "picture.kernels.shade.shade_plain": "int16..! float32..! float32..! int64 int64 float32... "
    "float64 float64 float32. float32...",
    "picture.kernels.cover.find_edges": "int16.. int64 bool..",
    "picture.kernels.raster.extents": "float32.. float32.. int32.. float64. float64 float32..",
    "picture.kernels.raster.project": "float32.. float64. float64 float32..",
}


@contextmanager
def compiled_ahead() -> Iterator[None]:
    """Start the second process as soon as this one compiles anything; end it at the end."""
    import numba
    from numba.core import event

    from rakelight.light.kernels.compile import CACHE_MISSING

    started: list[subprocess.Popen[bytes]] = []

    class Compiles(event.Listener):  # type: ignore[misc]
        def on_start(self, event: Any) -> None:
            if not started:
                command = [sys.executable, "-m", "rakelight.cli.compiled_ahead"]
                quiet = subprocess.DEVNULL
                with suppress(OSError):  # where none can be started, all is compiled here
                    started.append(
                        subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet)
                    )

        def on_end(self, event: Any) -> None:
            pass

    if CACHE_MISSING or numba.config.NUMBA_NUM_THREADS < 2:
        yield
        return
    try:
        with event.install_listener("numba:compile", Compiles()):
            yield
    finally:
        for process in started:
            process.terminate()  # the cache takes a kernel whole or not at all
            process.wait()


def argument_types(words: str) -> tuple[Any, ...]:
    """Numba's types of arguments in the words of `USUAL`."""
    from numba import types

    found = []
    for word in words.split():
        name = word.rstrip(".!")
        plain = types.boolean if name == "bool" else getattr(types, name)
        axes = word.count(".")
        fixed = word.endswith("!")
        found.append(types.Array(plain, axes, "C", readonly=fixed) if axes else plain)
    return tuple(found)


def dispatcher(place: str) -> Any:
    """The compiled function at a place of `USUAL`."""
    from importlib import import_module

    module, name = place.rsplit(".", 1)
    return getattr(import_module(f"rakelight.{module}"), name)


def main() -> None:
    """Compile the usual kernels, each as soon as the one before is in the cache."""
    for place, words in USUAL.items():
        dispatcher(place).compile(argument_types(words))


if __name__ == "__main__":
    main()
