"""How finely a scene is computed: mesh, azimuths, steps along the run, samples a pixel."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quality:
    """Settings that trade time for accuracy; the defaults meet the stated accuracy.

    Parameters
    ----------
    mesh_step_m : float
        Largest distance between vertices of a relief. [m]
    plane_step_m : float
        Largest distance between vertices of a surface without relief. [m]
    azimuths : int
        Stored horizon azimuths over the half circle from which direct light comes.
    steps : int
        Quadrature steps over the angle psi along the run, -90 to 90 degrees.
    supersample : int
        Samples along each side of a pixel.
    bounce : bool
        Whether light is followed from surface to surface.
    """

    mesh_step_m: float = 0.0025
    plane_step_m: float = 0.02
    azimuths: int = 30
    steps: int = 32
    supersample: int = 2
    bounce: bool = False
