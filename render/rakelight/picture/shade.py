"""Luminance toward the camera, from one drawing and the light on the vertices.

Illuminance is bilinear between a surface's vertices, on a relief corrected to the slopes of its
image (`detail`); reflectance comes from the map's pyramid over the sample's footprint, and
L = rho E / pi. Openings show the luminance that their
distribution has toward the eye. Housings and the figure, a mark of scale, stand in what the
surfaces reflect toward them.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.on_bodies import light_on_places
from rakelight.picture.around import Patches, patches
from rakelight.picture.buried import buried, uncovered
from rakelight.picture.detail import Fine, details, refine
from rakelight.picture.finish import FULL, Pyramid, add_reflectance, finishes
from rakelight.picture.gloss import Gloss, gloss_of, shine
from rakelight.picture.kernels.shade import resolve, shade_mapped, shade_plain, split
from rakelight.picture.tone import REC709, display_linear, to_codes
from rakelight.picture.view import View, rays
from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Body, Room

_BAND_SAMPLES = 2**21
_LEAST_COSINE = 0.05  # an opening seen flatter than 87 degrees shows no more than there


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A scene-linear picture that knows its silhouettes.

    Parameters
    ----------
    rgb_cd_m2 : ndarray of float32, shape (rows, columns, 3)
        Linear Rec.709 averaged over each pixel; luminance 0.2126 R + 0.7152 G + 0.0722 B.
    ids : ndarray of int16, shape (rows, columns)
        Owner of each pixel, -1 where several meet or nothing is seen.
    edges : ndarray of int64, shape (k,)
        Flat indices of the pixels where several owners meet.
    edge_cd_m2 : ndarray of float32, shape (k, owners, 3)
        Each owner's mean within the pixel.
    edge_shares : ndarray of float32, shape (k, owners)
        How much of the pixel each covers; sum 1.
    """

    rgb_cd_m2: NDArray[np.float32]
    ids: NDArray[np.int16]
    edges: NDArray[np.int64]
    edge_cd_m2: NDArray[np.float32]
    edge_shares: NDArray[np.float32]

    def luminance_cd_m2(self) -> NDArray[np.float32]:
        """Luminance of each pixel, shape (rows, columns). [cd/m2]"""
        out: NDArray[np.float32] = self.rgb_cd_m2 @ REC709.astype(np.float32)
        return out

    def of(self, view: View, names: tuple[str, ...]) -> NDArray[np.float32]:
        """Luminances of the pixels that lie wholly on the named surfaces, shape (k,)."""
        wanted = [index for index, name in enumerate(view.names) if name in names]
        return self.luminance_cd_m2()[np.isin(self.ids, wanted)]


def shade(
    view: View,
    room: Room,
    lit: Lit,
    finish: Mapping[str, Pyramid] | None = None,
    sheen: Mapping[str, Gloss] | None = None,
    detail: Mapping[str, Fine] | None = None,
    reflectance: NDArray[np.uint16] | None = None,
) -> Picture:
    """Shade a view.

    Parameters
    ----------
    view : View
        Drawn from `room`.
    room : Room
        Reflectances, openings.
    lit : Lit
        Light on the vertices, from `room`.
    finish : mapping of str to Pyramid, optional
        `finishes(room)`, made once when several pictures are shaded.
    sheen : mapping of str to Gloss, optional
        `sheens(room, lit)`, likewise.
    detail : mapping of str to Fine, optional
        `details(room, lit)`, likewise.
    reflectance : ndarray of uint16, shape (rows * s, columns * s, 3), optional
        `reflectances(view, room, finish)`, likewise; it is not kept otherwise.

    Returns
    -------
    Picture
        At the camera's size; made in bands, so that memory stays bounded.
    """
    if finish is None:
        finish = finishes(room)
    if detail is None:
        detail = details(room, lit)
    s = view.supersample
    rows, columns = view.ids.shape
    mean = np.empty((rows // s, columns // s, 3), np.float32)
    band = s * max(1, _BAND_SAMPLES // (columns * s))
    present = view.present()
    light = {
        surface.name: _light_of(lit, surface.name, buried(surface, room.surfaces))
        for index, surface in enumerate(room.surfaces)
        if present[index]
    }
    if sheen is None:
        found = ((name, gloss_of(room.surface(name), room, lit)) for name in light)
        sheen = {name: gloss for name, gloss in found if gloss is not None}
    around = patches(room, lit) if present[len(room.surfaces) :].any() else None
    bodies = {
        index: _faces_lx(view, room, lit, body, index, around)
        for index, body in enumerate(room.bodies, start=len(room.surfaces))
        if around is not None and present[index] and not _glows(body)
    }
    edge_values = np.empty((*view.edge_owners.shape, 3), np.float32)
    width = columns // s
    for first in range(0, rows, band):
        last = min(rows, first + band)
        # one more pixel above and below, where the band's silhouettes look for colours
        above, below = max(0, first - s), min(rows, last + s)
        samples = np.zeros((below - above, columns, 3), np.float32)
        for index, surface in enumerate(room.surfaces):
            if not present[index]:
                continue
            per_u, per_v = 1 / surface.grid.step_u_m, 1 / surface.grid.step_v_m
            place = (view.ids, view.u_m, view.v_m, above, index)
            lx, colour = light[surface.name]
            if surface.name in finish:
                stone = finish[surface.name]
                if reflectance is None:
                    rho = np.empty(samples.shape, np.uint16)
                    add_reflectance(stone, place, rho)
                else:
                    rho = reflectance[above:below]
                factor = (stone.source.scale / FULL / np.pi * colour).astype(np.float32)
                shade_mapped(*place, lx, per_u, per_v, rho, factor, samples)
            else:
                rho = (surface.reflectance_rgb / np.pi * colour).astype(np.float32)
                shade_plain(*place, lx, per_u, per_v, rho, samples)
            if surface.name in detail:
                refine(detail[surface.name], surface, place, samples)
            if surface.name in sheen:
                gloss, pairs = sheen[surface.name], s % 2 == 0
                shine(gloss, surface, room, lit, view.camera, place, samples, in_pairs=pairs)
        for index, body in enumerate(room.bodies, start=len(room.surfaces)):
            if present[index]:
                _shade_body(view, room, lit, body, index, above, bodies.get(index), samples)
        resolve(samples[first - above : last - above], s, mean[first // s : last // s])
        low, high = np.searchsorted(view.edges, [first // s * width, last // s * width])
        split(
            view.ids,
            samples,
            above,
            s,
            view.edges[low:high],
            width,
            view.edge_owners[low:high],
            edge_values[low:high],
        )
    ids = view.ids[::s, ::s].copy()
    ids.reshape(-1)[view.edges] = -1
    whole = np.einsum("ijk,ij->ik", edge_values, view.edge_shares)
    mean.reshape(-1, 3)[view.edges] = whole
    return Picture(mean, ids, view.edges, edge_values, view.edge_shares)


def _light_of(
    lit: Lit, name: str, hidden: NDArray[np.bool_] | None
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Illuminance (rows, columns, bands) and the colour by which each band is multiplied.

    One band serves where all the light has one colour.
    """
    bounced = lit.bounced_lx.get(name)
    plain = bounced is None or bounced.ndim == 2
    if plain and (lit.white_rgb == lit.white_rgb[:1]).all() and lit.output.sum() > 0:
        return uncovered(lit.total_lx(name), hidden)[..., None], lit.white_rgb[0]
    return uncovered(lit.rgb_lx(name), hidden), np.ones(3)


def develop(picture: Picture, ev100: float, *, dither: bool = True) -> NDArray[np.uint8]:
    """Codes of a picture at an exposure, shape (rows, columns, 3).

    Within one surface the samples were averaged in linear light; where surfaces meet, their
    shares are averaged after the tone curve, which keeps silhouettes against a bright
    source smooth.
    """
    rows, columns = picture.ids.shape
    out = np.empty((rows, columns, 3), np.uint8)
    band = max(1, _BAND_SAMPLES // (4 * columns))
    bounds = np.searchsorted(picture.edges, np.arange(0, rows + band, band) * columns)
    for number, first in enumerate(range(0, rows, band)):
        last = min(rows, first + band)
        shown = display_linear(picture.rgb_cd_m2[first:last], ev100)
        edge = slice(bounds[number], bounds[number + 1])
        if edge.stop > edge.start:
            flat = shown.reshape(-1, 3)
            apart = display_linear(picture.edge_cd_m2[edge], ev100)
            flat[picture.edges[edge] - first * columns] = np.einsum(
                "ijk,ij->ik", apart, picture.edge_shares[edge]
            )
        out[first:last] = to_codes(shown, dither=dither, first_row=first)
    return out


def _shade_body(
    view: View,
    room: Room,
    lit: Lit,
    body: Body,
    index: int,
    first: int,
    faces_lx: NDArray[np.float64] | None,
    samples: NDArray[np.float32],
) -> None:
    where = view.ids[first : first + samples.shape[0]] == index
    if not where.any():
        return
    if faces_lx is not None:
        face = view.u_m[first : first + samples.shape[0]][where].astype(np.int64)
        rho = body.reflectance_rgb * _mean_colour(lit)
        samples[where] = (faces_lx[face, None] * rho / np.pi).astype(np.float32)
        return
    groups = [(g, line) for g, group in enumerate(room.groups) for line in group.lines]
    group, line = groups[body.line]
    row, column = np.nonzero(where)
    s = view.supersample
    toward = rays(view.camera, (column + 0.5) / s, (first + row + 0.5) / s)
    toward = -toward / np.linalg.norm(toward, axis=1, keepdims=True)
    cosine = toward @ line.facing
    glow = line.candela_per_metre(toward) / (
        line.opening_width_m * np.maximum(cosine, _LEAST_COSINE)
    )
    glow = np.where(cosine > 0, glow * lit.output[group], 0.0)
    samples[where] = (glow[:, None] * lit.white_rgb[group]).astype(np.float32)


def _mean_colour(lit: Lit) -> NDArray[np.float64]:
    """Colour of reflected light, luminance 1: that of the runs, as `Lit.rgb_lx` takes it."""
    total = float(lit.output.sum())
    if not total > 0:
        return np.ones(3)
    out: NDArray[np.float64] = lit.output @ lit.white_rgb / total
    return out


def _glows(body: Body) -> bool:
    return body.kind == "opening" and body.line >= 0


def _faces_lx(
    view: View, room: Room, lit: Lit, body: Body, index: int, around: Patches
) -> NDArray[np.float64]:
    """Illuminance of each face of a body on the side that the eye sees. [lx]

    A mesh stands in the runs' own light too; housings have their runs' behind them.
    """
    camera = view.camera
    if body.kind == "figure":
        # one flat tone: it marks scale, and is turned to the eye
        middle = (body.points_m.min(axis=0) + body.points_m.max(axis=0)) / 2
        toward = (camera.eye_m - middle) * [1, 1, 0]
        toward /= max(float(np.linalg.norm(toward)), 1e-9)
        return np.full(len(body.faces), around.received_lx(middle, toward))
    corners = body.points_m[body.faces]
    centres = corners.mean(axis=1)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    normals *= np.where(np.einsum("ij,ij->i", normals, camera.eye_m - centres) < 0, -1, 1)[:, None]
    if body.kind == "mesh":
        seen = np.unique(view.u_m[view.ids == index].astype(np.int64))
        middles, ways = centres[seen], normals[seen]
        lx = lit.output @ light_on_places(room, middles, ways)
        # what surfaces send hardly changes between like faces: one value for all about one way
        _, alike = np.unique(np.round(ways * 5), axis=0, return_inverse=True)
        alike = alike.reshape(-1)
        for k in range(int(alike.max()) + 1):
            of = alike == k
            lx[of] += around.received_lx(middles[of].mean(axis=0), ways[of].mean(axis=0))
        out = np.zeros(len(body.faces))
        out[seen] = lx
        return out
    # two triangles of one flat face must not differ: all faces of one normal share a value
    _, first, group = np.unique(
        np.round(normals, 6), axis=0, return_index=True, return_inverse=True
    )
    group = group.reshape(-1)
    values = np.array(
        [
            around.received_lx(centres[group == k].mean(axis=0), normals[i])
            for k, i in enumerate(first)
        ]
    )
    flat: NDArray[np.float64] = values[group]
    return flat
