"""The files of a comparison: one plate, and the numbers on it."""

from collections.abc import Mapping, Sequence

from rakelight.study.stills import LitScene, codes
from rakelight.tell.caption import Exposed, bounce_line, other_light_line, run_line
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.plates.compare import Panel, compare_plate
from rakelight.tell.reflected import reflected_record
from rakelight.tell.shown import state_of
from rakelight.tell.still_files import units_of
from rakelight.tell.summary import changes, headline, sentences
from rakelight.tell.tables import numbers_json


def compare_files(
    stills: Sequence[LitScene], exposed: Exposed, *, heading: str = "", equal_lumens: bool = False
) -> Mapping[str, bytes]:
    """Make the plate of two or more stills, and a JSON with every number on it.

    Parameters
    ----------
    stills : sequence of LitScene
        Each with one shot, from one camera.
    exposed : Exposed
        Their one exposure.
    heading : str
        Words over the plate.
    equal_lumens : bool
        Whether they were dimmed to one flux; said in the caption.
    """
    panels = [
        Panel(codes(still.shots[0], exposed.ev100), still.scene.title, said, headline(still))
        for still, said in zip(stills, sentences(stills), strict=True)
    ]
    camera = stills[0].shots[0].camera.name
    units = units_of(stills[0].scene)
    plans = [plan for still in stills for plan in still.scene.runs]
    how = "automatic" if exposed.automatic else "stated"
    caption = [
        f"One camera ({camera}), one exposure: EV100 {exposed.ev100:.1f}, {how}. "
        f"Illuminance in {units.illuminance}, {state_of(plans)}."
        + (" All dimmed to the same luminous flux." if equal_lumens else ""),
        *(run_line(plan, units) + "." for plan in plans),
        *dict.fromkeys(other_light_line(still.scene.room.surfaces, units) for still in stills),
        *dict.fromkeys(bounce_line(still.scene.quality.bounce) for still in stills),
        *changes(stills),
    ]
    stem = ".".join(still.scene.name for still in stills)
    files = {
        f"{stem}.png": compare_plate(panels, heading=heading, caption=caption, cautions=CAUTIONS)
    }
    for still in stills:
        files[f"{stem}.{still.scene.name}.json"] = numbers_json(
            still.scene.name,
            still.numbers,
            still.scene.runs,
            still.scene.room.groups,
            more={
                "title": still.scene.title,
                "ev100": exposed.ev100,
                "caption": caption,
                "reflected_light": reflected_record(still.balance),
            },
        )
    return files
