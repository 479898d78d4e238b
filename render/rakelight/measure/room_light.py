"""A room's light with what its measures share, gathered once."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rakelight.measure.fields import Areas, Fields, areas_of, fields
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
    known : mapping of str to Areas
        Of the surfaces, or of what stood in their place before; empty if nothing is known.
    """

    room: Room
    lit: Lit
    known: Mapping[str, Areas] = field(default_factory=dict)
    _gathered: dict[str, Fields] = field(default_factory=dict, init=False, repr=False)
    _areas: dict[str, Areas] = field(default_factory=dict, init=False, repr=False)

    def of(self, name: str) -> Fields:
        """Gathered light of a surface; ValueError if there is none."""
        if name not in self._gathered:
            surface = self.room.surface(name)
            known = self.known.get(name)
            if known is None or not known.serve(surface):
                known = areas_of(surface)
            self._areas[name] = known
            self._gathered[name] = fields(surface, self.lit, known)
        return self._gathered[name]

    def areas(self) -> dict[str, Areas]:
        """Areas of the surfaces that were asked for, for the same room in other light."""
        return dict(self._areas)

    def output(self, line: LitLine) -> float:
        """Dim times maintenance of a run; ValueError if it is not the room's."""
        for group in self.room.groups:
            if any(one is line for one in group.lines):
                return group.output
        raise ValueError(f"run {line.tag!r} is not in the room")
