"""A field on paper: north up, to scale, with room for text inside its parts."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from vrp.plan import Plan
from vrp.prescription import Prescription, SoilTestMap
from vrp.report.svg import (
    BOLD,
    SMALL,
    Point,
    box,
    breadth,
    dots,
    path,
    rings,
    rule,
    say,
    short,
)
from vrp.units import FOOT

Floats = NDArray[np.float64]

MARGIN = 10.0
# Our choice: a field that is longer than this share of the width is drawn smaller.
_HIGHEST = 1.15
_LONGEST_BAR = 0.4  # of the width of a drawing
_MILE = 5280.0  # [ft]
_PITCH = 5.0  # between hatching lines
_DOTS = 5.0  # between dots where nothing is applied
_AS_CLEAR = 0.8  # of the pole's distance from the edge
_LEADING = 1.15  # from line to line inside a zone, in letters
_INK = 0.179  # relative luminance at which black and white stand out alike


@dataclass(frozen=True)
class Ground:
    """Where the places of a field are on a drawing, north up."""

    outline: shapely.MultiPolygon  # longitude, latitude
    width: float
    top: float

    @classmethod
    def of(cls, prescription: Prescription, *, width: float, top: float) -> "Ground":
        """Return the ground of all zones."""
        shapes = [zone.geometry for zone in prescription.zones]
        joined = shapely.union_all(shapes)
        parts = [one for one in shapely.get_parts(joined) if one.geom_type == "Polygon"]
        return cls(shapely.MultiPolygon(parts), width, top)

    @cached_property
    def _crs(self) -> CRS:
        # True to scale, and north up, in the middle of the field.
        west, south, east, north = self.outline.bounds
        middle = f"+lat_0={(south + north) / 2.0!r} +lon_0={(west + east) / 2.0!r}"
        return CRS.from_user_input(f"+proj=tmerc {middle} +datum=WGS84 +units=m")

    @cached_property
    def _to_metres(self) -> Transformer:
        return Transformer.from_crs("EPSG:4326", self._crs, always_xy=True)

    @cached_property
    def _metres(self) -> tuple[float, float, float, float]:
        def placed(lonlat: Floats) -> Floats:
            return np.column_stack(self._to_metres.transform(*lonlat.T))

        return shapely.transform(self.outline, placed).bounds

    @cached_property
    def scale(self) -> float:
        """Return how long a metre is on the drawing."""
        west, south, east, north = self._metres
        room = self.width - 2.0 * MARGIN
        return min(room / (east - west), room * _HIGHEST / (north - south))

    @property
    def bottom(self) -> float:
        """Return where the field ends."""
        _, south, _, north = self._metres
        return self.top + (north - south) * self.scale

    def _place(self, x: Any, y: Any) -> tuple[Any, Any]:
        west, _, east, north = self._metres
        middle = self.width / 2.0
        return (
            middle + (x - (west + east) / 2.0) * self.scale,
            self.top + (north - y) * self.scale,
        )

    def drawn(self, geometry: shapely.Geometry) -> shapely.Geometry:
        """Return a geometry in longitude, latitude on the drawing."""

        def placed(lonlat: Floats) -> Floats:
            return np.column_stack(self._place(*self._to_metres.transform(*lonlat.T)))

        found: shapely.Geometry = shapely.transform(geometry, placed)
        return found

    def of_cells(self, cells: SoilTestMap) -> Floats:
        """Return the matrix that takes column and row of a cell to the drawing."""
        rows, columns = cells.estimate.shape
        x = cells.west + cells.cell * np.array([0.0, columns, 0.0])
        y = cells.north - cells.cell * np.array([0.0, 0.0, rows])
        crs = CRS.from_user_input(cells.crs)
        there = Transformer.from_crs(crs, self._crs, always_xy=True).transform(x, y)
        (x0, x1, x2), (y0, y1, y2) = self._place(*(np.asarray(each) for each in there))
        across = (x1 - x0) / columns, (y1 - y0) / columns
        down = (x2 - x0) / rows, (y2 - y0) / rows
        return np.array([[across[0], down[0], x0], [across[1], down[1], y0]])


def polygons(geometry: shapely.Geometry) -> list[shapely.Polygon]:
    """Return the parts of a geometry that have an area."""
    return [one for one in shapely.get_parts(geometry) if one.geom_type == "Polygon"]


def area_path(geometry: shapely.Geometry) -> str:
    """Return polygons with their holes as a path is written."""
    lines = [
        line
        for polygon in polygons(geometry)
        for line in (polygon.exterior, *polygon.interiors)
    ]
    return rings([shapely.get_coordinates(line).tolist() for line in lines])


def outline(ground: Ground) -> list[str]:
    """Return the field's edge, and its holes hatched."""
    drawn = ground.drawn(ground.outline)
    holes = [
        shapely.Polygon(ring)
        for polygon in polygons(drawn)
        for ring in polygon.interiors
    ]
    left_out = shapely.difference(shapely.union_all(holes), drawn) if holes else None
    edge = (
        f'<path data-part="outline" fill="none" stroke="currentColor" '
        f'stroke-width="1.4" d="{area_path(drawn)}"/>'
    )
    if left_out is None or left_out.is_empty:
        return [edge]
    hatched = path(hatching(left_out))
    look = 'fill="none" stroke="currentColor" stroke-width="0.7"'
    return [f'<path data-part="left-out" {look} d="{hatched}"/>', edge]


def has_holes(ground: Ground) -> bool:
    """Return whether some ground inside the outline is left out."""
    return any(one.interiors for one in polygons(ground.outline))


def hatching(area: shapely.Geometry) -> list[list[Point]]:
    """Return slanting lines over an area."""
    west, north, east, south = shapely.bounds(area).tolist()
    reach = south - north
    starts = np.arange(west - reach, east + _PITCH, _PITCH)
    lines = shapely.linestrings([[(x, south), (x + reach, north)] for x in starts])
    inside = shapely.get_parts(shapely.intersection(lines, area))
    return [
        [(float(x), float(y)) for x, y in shapely.get_coordinates(line)]
        for line in inside
        if line.geom_type == "LineString" and line.length > 0.5
    ]


def dotted(area: shapely.Geometry) -> str:
    """Return dots over an area, which paper without colour keeps from a light fill."""
    west, north, east, south = shapely.bounds(area).tolist()
    across = np.arange(math.ceil(west / _DOTS), math.floor(east / _DOTS) + 1)
    down = np.arange(math.ceil(north / _DOTS), math.floor(south / _DOTS) + 1)
    x, y = (each.ravel() * _DOTS for each in np.meshgrid(across, down))
    x = x + np.where(np.round(y / _DOTS) % 2 == 1, _DOTS / 2.0, 0.0)
    inside = shapely.contains_xy(area, x, y)
    look = 'data-part="nothing" stroke="#707070" stroke-width="1.1"'
    return dots(zip(x[inside].tolist(), y[inside].tolist(), strict=True), look=look)


def scale_bar(ground: Ground, plan: Plan, *, y: float) -> list[str]:
    """Return a bar of a round length, and an arrow to the north."""
    metres, said = _bar(ground, plan)
    length = metres * ground.scale
    left, middle = MARGIN, MARGIN + length / 2.0
    parts = [
        box(left, y, length / 2.0, 4.0, look='class="ink"'),
        rule("axis", (left, y), (left + length, y)),
        rule("axis", (left, y + 4.0), (left + length, y + 4.0)),
        *(
            rule("axis", (x, y - 2.0), (x, y + 4.0))
            for x in (left, middle, left + length)
        ),
    ]
    bar = f'<g data-part="scale" data-metres="{short(metres)}">'
    x = ground.width - MARGIN - 6.0
    arrow = path([[(x, y - 12.0), (x - 4.5, y + 4.0), (x, y + 1.0)]]) + "z"
    other = path([[(x, y - 12.0), (x + 4.5, y + 4.0), (x, y + 1.0)]]) + "z"
    return [
        bar,
        *parts,
        "</g>",
        say(said, left + length + 6.0, y + 4.0, size=SMALL),
        f'<path class="ink" d="{arrow}"/>',
        f'<path fill="none" stroke="currentColor" stroke-width="0.8" d="{other}"/>',
        say("north", x - 9.0, y + 4.0, size=SMALL, anchor="end"),
    ]


def _bar(ground: Ground, plan: Plan) -> tuple[float, str]:
    """Return the longest round length that a bar may have [m], and its name."""
    most = _LONGEST_BAR * ground.width / ground.scale
    units = [("km", 1000.0), ("m", 1.0)]
    if plan.units == "us":
        units = [("mi", _MILE * FOOT), ("ft", FOOT)]
    for name, metres in units:
        power = 10.0 ** math.floor(math.log10(most / metres))
        step = max(by * power for by in (1.0, 2.0, 5.0) if by * power * metres <= most)
        if step >= 1.0 or name in {"ft", "m"}:
            break
    return step * metres, f"{step:g} {name}"


def ink(colour: str) -> str:
    """Return the class of text that stands out from a filled ground."""
    channels = [one / 255.0 for one in bytes.fromhex(colour[1:])]
    linear = [
        one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4
        for one in channels
    ]
    # Relative luminance, WCAG 2.1.
    shares = (0.2126, 0.7152, 0.0722)
    luminance = sum(share * one for share, one in zip(shares, linear, strict=True))
    return "on-light" if luminance > _INK else "on-dark"


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of text in a part of a zone."""

    x: float
    y: float  # of the middle
    sizes: tuple[float, ...]


def label_inside(
    polygon: shapely.Polygon, choices: Iterable[Sequence[tuple[str, float]]]
) -> tuple[int, Label] | None:
    """
    Return the first of some choices of lines that fits into a polygon, and where.

    It stands about the pole of inaccessibility: the place that is farthest from the
    edge, by the shape of the label.
    """
    shapely.prepare(polygon)
    for number, lines in enumerate(choices):
        (first, largest), *others = lines
        width = max(
            BOLD * largest * breadth(first),
            *(size * breadth(text) for text, size in others),
            largest,
        )
        height = sum(_LEADING * size for _, size in lines)
        west, south, east, north = polygon.bounds
        if width > east - west or height > north - south:
            continue
        stretched = shapely.transform(polygon, _stretch(width / height))
        pole = shapely.maximum_inscribed_circle(stretched, tolerance=0.5)
        x, y = shapely.get_coordinates(pole)[0]
        middle = shapely.centroid(stretched)
        if shapely.contains(stretched, middle):
            clear = shapely.distance(middle, shapely.boundary(stretched))
            # A long part has its pole anywhere along it: its middle is as good.
            if clear >= _AS_CLEAR * shapely.length(pole):
                x, y = middle.x, middle.y
        y *= height / width
        needed = shapely.box(
            x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0
        )
        if shapely.contains(polygon, needed):
            return number, Label(float(x), float(y), tuple(size for _, size in lines))
    return None


def _stretch(by: float) -> Callable[[Floats], Floats]:
    return lambda places: places * np.array([1.0, by])


def lettered(
    label: Label, lines: Sequence[tuple[str, float]], *, kind: str
) -> list[str]:
    """Return the lines of a label about its place, the first of them bold."""
    height = sum(_LEADING * size for size in label.sizes)
    y = label.y - height / 2.0
    parts = []
    for at, (text, size) in enumerate(lines):
        y += _LEADING * size
        parts.append(
            say(
                text,
                label.x,
                y - 0.29 * size,
                size=size,
                anchor="middle",
                kind=kind,
                bold=at == 0,
            )
        )
    return parts
