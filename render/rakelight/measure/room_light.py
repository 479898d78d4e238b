"""A room's light with what its measures share, gathered once."""

from dataclasses import dataclass, field

from rakelight.measure.fields import Fields, fields
from rakelight.scene.lit import Lit
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Room


@dataclass(frozen=True, slots=True, eq=False)
class RoomLight:
    """A room and its light.

    Parameters
    ----------
    room : Room
        The room.
    lit : Lit
        Its light.
    """

    room: Room
    lit: Lit
    _gathered: dict[str, Fields] = field(default_factory=dict, init=False, repr=False)

    def of(self, name: str) -> Fields:
        """Gathered light of a surface; ValueError if there is none."""
        if name not in self._gathered:
            self._gathered[name] = fields(self.room.surface(name), self.lit)
        return self._gathered[name]

    def output(self, line: LitLine) -> float:
        """Dim times maintenance of a run; ValueError if it is not the room's."""
        for group in self.room.groups:
            if any(one is line for one in group.lines):
                return group.output
        raise ValueError(f"run {line.tag!r} is not in the room")
