"""Maps of the surface: the soil test, its error, the probability of a shortage."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.evidence import shown
from vrp.legend import cividis
from vrp.prescription import Prescription, Sample, SoilTestMap
from vrp.report.map_frame import (
    MARGIN,
    Ground,
    area_path,
    has_holes,
    outline,
    scale_bar,
)
from vrp.report.svg import (
    MOST_POINTS,
    Point,
    breadth,
    dots,
    escaped,
    framed,
    path,
    say,
    say_all,
    short,
)
from vrp.report.zone_map import WIDTH, Shade, headed, keys, name_of, shades_of

_DOT, _FIGURE = 2.4, 8.5  # a sample's radius, and the size of its figure
_CHANCES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)  # our choice
_CLEAR = 1.0  # between figures

Box = tuple[float, float, float, float]
Floats = NDArray[np.float32]


def soil_test_surface(
    prescription: Prescription, cells: SoilTestMap, *, width: float = WIDTH
) -> str:
    """Return the soil test on the cells, with the samples' own figures."""
    facts = prescription.guideline
    unit, critical = facts.soil_test_unit, facts.critical
    low, high = float(np.nanmin(cells.estimate)), float(np.nanmax(cells.estimate))
    limit = _limit(cells, critical)
    notes = ["Points: samples with what the laboratory found."]
    if limit:
        notes.append(f"Dashed: the critical level, {critical:g} {unit}.")
    elif high < critical:
        notes.append(f"All of it is below the critical level, {critical:g} {unit}.")
    else:
        notes.append(f"None of it is below the critical level, {critical:g} {unit}.")
    return _surface_map(
        prescription,
        cells,
        cells.estimate,
        shades_of([low, high], unit),
        width=width,
        words=(f"Soil test P, estimated [{unit}]", f"{low:.1f} to {high:.1f} {unit}"),
        limit=limit,
        notes=notes,
        samples=prescription.samples,
    )


def error_map(
    prescription: Prescription, cells: SoilTestMap, *, width: float = WIDTH
) -> str:
    """Return the standard error of the estimate on the cells."""
    unit = prescription.guideline.soil_test_unit
    low, high = float(np.nanmin(cells.error)), float(np.nanmax(cells.error))
    return _surface_map(
        prescription,
        cells,
        cells.error,
        shades_of([low, high], unit),
        width=width,
        words=(
            f"Standard error of the soil test [{unit}]",
            f"{low:.1f} to {high:.1f} {unit}",
        ),
        notes=["Points: samples."],
        samples=prescription.samples,
        figures=False,
    )


def shortage_map(
    prescription: Prescription, cells: SoilTestMap, *, width: float = WIDTH
) -> str:
    """Return the probability that a place is below the critical level."""
    facts = prescription.guideline
    last = len(_CHANCES) - 2
    shades = [
        Shade(low, high, f"{100 * low:.0f}–{100 * high:.0f} %", cividis(1 - at / last))
        for at, (low, high) in enumerate(pairwise(_CHANCES))
    ]
    level = f"{facts.critical:g} {facts.soil_test_unit}"
    low, high = np.nanmin(cells.short), np.nanmax(cells.short)
    return _surface_map(
        prescription,
        cells,
        cells.short,
        shades,
        width=width,
        words=(
            f"Probability of being below {level} [%]",
            f"{100 * low:.0f} to {100 * high:.0f} %",
        ),
        notes=[f"{level} is the critical level of the guideline."],
        samples=(),
    )


def _surface_map(
    prescription: Prescription,
    cells: SoilTestMap,
    values: Floats,
    shades: Sequence[Shade],
    *,
    width: float,
    words: tuple[str, str],
    notes: Iterable[str],
    samples: Sequence[Sample],
    limit: Sequence[Sequence[Point]] = (),
    figures: bool = True,
) -> str:
    heading, told = words
    ground = Ground.of(prescription, width=width, top=48.0)
    parts = headed(prescription, heading, width=width)
    matrix = ground.of_cells(cells)
    turned = " ".join(f"{each:.6g}" for each in matrix.T.ravel())
    parts.append(f'<g data-part="cells" transform="matrix({turned})">')
    for at, shade in enumerate(shades):
        # Each class lies on the one below it, so that no seam shows between them.
        above = np.isfinite(values) if at == 0 else values > shade.low
        if above.any():
            parts.append(
                f'<path data-above="{shade.low:g}" fill="{shade.colour}" '
                f'fill-rule="evenodd" d="{_cells_path(above)}"/>'
            )
    parts.append("</g>")
    # Cells at the edge reach beyond it: paper covers what does.
    beyond = shapely.box(0.0, ground.top - 8.0, width, ground.bottom + 8.0)
    field = ground.drawn(ground.outline)
    parts.append(
        f'<path class="ground" fill-rule="evenodd" d="{area_path(beyond)}'
        f'{area_path(field)}"/>'
    )
    if limit:
        look = 'stroke="#ffffff" stroke-width="2.4" opacity="0.75"'
        dashed = 'stroke="#000000" stroke-width="1.2" stroke-dasharray="5 3"'
        for each in (look, dashed):
            parts.append(
                f'<path data-part="limit" fill="none" {each} '
                f'd="{_moved(limit, matrix)}"/>'
            )
    parts += outline(ground)
    drawn, missing = _samples(prescription, ground, samples, figures=figures)
    parts += drawn
    parts += scale_bar(ground, prescription.plan, y=ground.bottom + 20.0)
    legend, y = keys(
        [(one.colour, one.label) for one in shades], ground.bottom + 40.0, width=width
    )
    said = [*notes]
    if has_holes(ground):
        said.append("Hatched: left out of the field.")
    if missing:
        said.append(f"On {missing} of {len(samples)} there is no room for the figure.")
    more, y = say_all(" ".join(said), MARGIN, y + 2.0, room=width - 2.0 * MARGIN)
    return framed(
        f"{heading}, {name_of(prescription)}",
        f"{told} over the field. {' '.join(said)}",
        width=width,
        height=y,
        parts=[*parts, *legend, *more],
    )


def _outlines(held: NDArray[np.bool_]) -> list[list[list[Point]]]:
    """Return the closed lines about cells that are held, in columns and rows."""
    from rasterio.features import shapes

    found = shapes(held.astype(np.uint8), mask=held, connectivity=4)
    return [shape["coordinates"] for shape, _ in found]


def _cells_path(held: NDArray[np.bool_]) -> str:
    """Return cells as a path of whole steps along their edges."""
    parts = []
    for polygon in _outlines(held):
        for ring in polygon:
            x, y = (int(each) for each in ring[0])
            steps = [f"M{x} {y}"]
            for after_x, after_y in ring[1:-1]:
                across, down = int(after_x) - x, int(after_y) - y
                steps.append(f"h{across}" if across else f"v{down}")
                x, y = int(after_x), int(after_y)
            parts.append("".join(steps) + "z")
    return "".join(parts)


def _limit(cells: SoilTestMap, level: float) -> list[list[Point]]:
    """Return the lines between cells at or above a level and those below it."""
    inside = np.isfinite(cells.estimate)
    above = inside & (cells.estimate >= level)
    if not above.any() or (above == inside).all():
        return []
    edge, field = (
        shapely.union_all([shapely.LinearRing(ring) for one in each for ring in one])
        for each in (_outlines(above), _outlines(inside))
    )
    between = shapely.line_merge(shapely.difference(edge, field))
    return [
        [(float(x), float(y)) for x, y in shapely.get_coordinates(line)]
        for line in shapely.get_parts(shapely.normalize(between))
    ]


def _moved(lines: Sequence[Sequence[Point]], matrix: NDArray[np.float64]) -> str:
    return path(
        (np.column_stack([line, np.ones(len(line))]) @ matrix.T).tolist()
        for line in lines
    )


def _samples(
    prescription: Prescription,
    ground: Ground,
    samples: Sequence[Sample],
    *,
    figures: bool,
) -> tuple[list[str], int]:
    """Return the samples where they lie, and how many lack room for their figure."""
    if not samples:
        return [], 0
    unit = prescription.guideline.soil_test_unit
    points = shapely.MultiPoint([(one.longitude, one.latitude) for one in samples])
    places = shapely.get_coordinates(ground.drawn(points)).tolist()
    if len(samples) > MOST_POINTS:
        looks = (
            'stroke="#ffffff" stroke-width="3"',
            'stroke="#000000" stroke-width="1.6"',
        )
        drawn = [dots(places, look=f'data-part="samples" {look}') for look in looks]
        return drawn, len(samples) if figures else 0
    rings, letters, missing = [], [], 0
    within = (1.0, ground.top - 5.0, ground.width - 1.0, ground.bottom + 6.0)
    taken: list[Box] = [(x - _DOT, y - _DOT, x + _DOT, y + _DOT) for x, y in places]
    for sample, (x, y) in zip(samples, places, strict=True):
        said = shown(sample.soil_test, most=1)
        name = f"sample {sample.id}" if sample.id else f"row {sample.row}"
        tip = escaped(f"{name[:60]}: {said} {unit}")
        rings.append(
            f'<circle data-sample="{sample.row}" cx="{short(x)}" cy="{short(y)}" '
            f'r="{_DOT:g}" fill="#ffffff" stroke="#000000" stroke-width="1">'
            f"<title>{tip}</title></circle>"
        )
        if not figures:
            continue
        free = _free(x, y, said, taken, within=within)
        if free is None:
            missing += 1
            continue
        taken.append(free)
        left, _, right, bottom = free
        letters.append(
            say(
                said,
                (left + right) / 2.0,
                bottom - 0.5,
                size=_FIGURE,
                anchor="middle",
                kind="halo sample",
            )
        )
    return [*rings, *letters], missing


def _free(
    x: float, y: float, said: str, taken: Sequence[Box], *, within: Box
) -> Box | None:
    """Return the first place about a point where a figure touches nothing."""
    wide, high, away = breadth(said) * _FIGURE, 0.78 * _FIGURE, _DOT + 2.0
    for left, top in (
        (x + away, y - high / 2.0),
        (x - wide / 2.0, y - away - high),
        (x - wide / 2.0, y + away),
        (x - away - wide, y - high / 2.0),
    ):
        tried = (left, top, left + wide, top + high)
        inside = tried[0] >= within[0] and tried[1] >= within[1]
        inside = inside and tried[2] <= within[2] and tried[3] <= within[3]
        if inside and not any(_touch(tried, other) for other in taken):
            return tried
    return None


def _touch(one: Box, other: Box) -> bool:
    return not (
        one[2] + _CLEAR <= other[0]
        or other[2] + _CLEAR <= one[0]
        or one[3] + _CLEAR <= other[1]
        or other[3] + _CLEAR <= one[1]
    )
