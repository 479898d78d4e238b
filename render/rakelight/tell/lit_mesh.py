"""The lit room as a VTK XML file: anyone can recompute the light from what was saved."""

import numpy as np

from rakelight.light.normals import vertex_normals
from rakelight.picture.geometry import grid_triangles
from rakelight.picture.tone import REC709
from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Room


def lit_mesh(room: Room, lit: Lit) -> bytes:
    """Every surface's grid as one .vtp, with its light on the points.

    Parameters
    ----------
    room : Room
        Surfaces.
    lit : Lit
        Their light.

    Returns
    -------
    bytes
        Point arrays `illuminance_lx` (total), `direct_lx`, `bounced_lx`, `luminance_cd_m2`,
        `reflectance` and the unit `normals` that the light was computed with; cell array
        `surface`, an index into the field array `surface_names`.
    """
    import pyvista as pv
    from vtkmodules.vtkIOXML import vtkXMLPolyDataWriter

    points, normals, faces, owner = [], [], [], []
    arrays: dict[str, list[np.ndarray]] = {
        name: []
        for name in ("illuminance_lx", "direct_lx", "bounced_lx", "luminance_cd_m2", "reflectance")
    }
    first = 0
    for index, surface in enumerate(room.surfaces):
        grid = surface.grid
        heights = (
            surface.relief.heights_m
            if surface.relief is not None
            else np.zeros((grid.rows, grid.columns), np.float32)
        )
        uvn = np.stack([*np.meshgrid(grid.u_m(), grid.v_m()), heights], axis=-1).reshape(-1, 3)
        points.append(surface.frame.to_room(uvn))
        own = vertex_normals(heights, grid.step_u_m, grid.step_v_m).reshape(3, -1).T
        normals.append(own @ np.stack([surface.frame.u, surface.frame.v, surface.frame.n]))
        triangles = grid_triangles(grid) + first
        faces.append(triangles)
        owner.append(np.full(len(triangles), index, np.int32))
        first += len(uvn)
        total = lit.total_lx(surface.name).ravel()
        reflectance = float(REC709 @ surface.reflectance_rgb)
        bounced = lit.bounced_lx.get(surface.name)
        arrays["illuminance_lx"].append(total)
        arrays["direct_lx"].append(lit.runs_lx(surface.name).ravel())
        if bounced is None:
            bounced = np.zeros_like(total)
        elif bounced.ndim == 3:
            bounced = bounced @ REC709.astype(np.float32)
        arrays["bounced_lx"].append(bounced.ravel())
        shown = lit.rgb_lx(surface.name) @ (REC709 * surface.reflectance_rgb / np.pi)
        arrays["luminance_cd_m2"].append(shown.ravel())
        arrays["reflectance"].append(np.full(total.size, reflectance, np.float32))
    triangles = np.concatenate(faces)
    cells = np.concatenate([np.full((len(triangles), 1), 3), triangles], axis=1)
    mesh = pv.PolyData(np.concatenate(points), cells.ravel())
    for name, parts in arrays.items():
        mesh.point_data[name] = np.concatenate(parts).astype(np.float32)
    mesh.point_data["normals"] = np.concatenate(normals).astype(np.float32)
    mesh.cell_data["surface"] = np.concatenate(owner)
    mesh.field_data["surface_names"] = [surface.name for surface in room.surfaces]
    writer = vtkXMLPolyDataWriter()
    writer.SetInputData(mesh)
    writer.SetDataModeToAppended()
    writer.EncodeAppendedDataOff()
    writer.SetCompressorTypeToZLib()
    writer.WriteToOutputStringOn()
    writer.Write()
    text = writer.GetOutputString()  # bytes where the data is not text, which it is not
    return text if isinstance(text, bytes) else str(text).encode("latin-1")
