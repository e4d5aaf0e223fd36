"""Task data by ISO 11783-10: the zones as a grid of codes, written."""

import math
import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from importlib.metadata import version as version_of
from itertools import chain, count
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.legend import HIDDEN, product_rate_unit
from vrp.plan import Plan, Product, TaskDataVersion
from vrp.prescription import MachineGrid, Prescription
from vrp.spatial.degree_grid import ORIGIN_DECIMALS, SIDE_DECIMALS, DegreeGrid, cover
from vrp.spatial.field import geodesic_area
from vrp.units import GAL_AC, LB_AC

# Share that the product of a grid may differ from the field's.
TOTAL = 0.005
# Our choice: a file of a megabyte holds 900 ha in cells of 3 m.
MOST_CELLS = 1_000_000
# Where the plan states no swath, about a third of a common one. Our choice.
SIDE = {"us": 30.0, "metric": 10.0}  # [ft, m]

# The code of a zone is a byte, and 255 is none. Zones have theirs by their order.
CODES = 255
OUTSIDE = 0
DEFAULT = 254
MOST_ZONES = CODES - 2

LONGEST = 32  # characters of a designator
NOT_STATED = "not stated"

# Setpoint of volume per area, 0.01 mm³/m² a unit: 1 L/ha is 100 mm³/m². Setpoint of
# mass per area, 1 mg/m² a unit: 1 kg/ha is 100 mg/m².
_VOLUME, _MASS = "0001", "0006"
_SETPOINT = {
    "lb/ac": (_MASS, 100.0 * LB_AC),
    "kg/ha": (_MASS, 100.0),
    "gal/ac": (_VOLUME, 10_000.0 * GAL_AC),
    "L/ha": (_VOLUME, 10_000.0),
}
_MOST_RAW = 2**31 - 1

_KINDS = ("CTR", "FRM", "PFD", "PDT", "VPN", "TSK")
# What XML 1.0 cannot hold, beside control characters.
_NOT_XML = re.compile("[\ud800-\udfff\ufffe\uffff]")


def write(
    folder: Path, prescriptions: Sequence[Prescription], *, version: TaskDataVersion
) -> tuple[MachineGrid, ...]:
    """Write TASKDATA below a folder, a task a field; return how far each grid errs."""
    planned = [_planned(one, version=version) for one in prescriptions]
    major, minor = version.split(".")
    root = ET.Element(
        "ISO11783_TaskData",
        VersionMajor=major,
        VersionMinor=minor,
        ManagementSoftwareManufacturer="vrp",
        ManagementSoftwareVersion=version_of("vrp")[:LONGEST],
        DataTransferOrigin="1",
    )
    listed = _Listed()
    for number, one in enumerate(planned, start=1):
        _list_task(listed, number, one)
    for kind in _KINDS:
        root.extend(listed.elements[kind].values())
    ET.indent(root, " ")
    text = ET.tostring(root, encoding="unicode")
    xml = f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'
    to = folder / "TASKDATA"
    to.mkdir()
    (to / "TASKDATA.XML").write_bytes(xml.encode())
    for number, one in enumerate(planned, start=1):
        (to / f"{_grid_name(number)}.bin").write_bytes(one.codes.tobytes())
    return tuple(one.said for one in planned)


def designator(text: str, *, tail: str = "", taken: Collection[str | None] = ()) -> str:
    """Return a text and its tail in 32 characters, unlike all that are taken."""
    legal = _NOT_XML.sub("", HIDDEN.sub("", unicodedata.normalize("NFC", text)))
    legal = " ".join(legal.split()) or NOT_STATED
    ends = chain([tail], (f" {number}{tail}" for number in count(2)))
    names = (_cut(legal, LONGEST - len(end)) + end for end in ends)
    return next(name for name in names if name not in taken)


def _cut(text: str, room: int) -> str:
    """Return the start of a text, no character torn from the marks upon it."""
    if len(text) <= room:
        return text
    end = room
    while end > 0 and (
        unicodedata.category(text[end])[0] == "M" or "\u200d" in text[end - 1 : end + 1]
    ):
        end -= 1
    return text[: end or room].rstrip()


@dataclass(frozen=True, slots=True)
class _Planned:
    """A prescription and its grid."""

    prescription: Prescription
    grid: DegreeGrid
    codes: NDArray[np.uint8]
    said: MachineGrid


def _planned(prescription: Prescription, *, version: TaskDataVersion) -> _Planned:
    """Return the grid of the widest cells that carry the field's product."""
    plan, zones = prescription.plan, prescription.zones
    if len(zones) > MOST_ZONES:
        message = (
            f"{plan.field.name}: {len(zones)} zones, and task data can tell "
            f"{MOST_ZONES} apart: make fewer zones, or take "
            '"task-data" out of files.machine'
        )
        raise InputError(message)
    factor = _SETPOINT[product_rate_unit(prescription)][1]
    rates = np.array([_raw(zone.rate, prescription) for zone in zones]) / factor
    shapes = [zone.geometry for zone in zones]
    true = np.array([geodesic_area(shape) for shape in shapes])
    product = float(true @ [zone.rate for zone in zones])
    tried = ""
    for side in _sides(plan):
        grid = cover(shapely.GeometryCollection(shapes), side=side)
        if grid.count > MOST_CELLS:
            break
        owners = _owners(grid, prescription)
        areas = np.repeat(grid.cell_areas(), grid.columns)
        held = np.bincount(owners.ravel() + 1, areas, minlength=len(zones) + 1)[1:]
        error = float(held @ rates) / product - 1.0 if product else 0.0
        if abs(error) <= TOTAL:
            errors = held / true - 1.0
            # Excluded zones take in every cell that they touch, as they are meant to.
            counted = [zone.excluded is None for zone in zones]
            worst = int(np.argmax(np.where(counted, np.abs(errors), -1.0)))
            said = MachineGrid(
                version=version,
                cell=round(side / plan.metres_per_length, 2),
                rows=grid.rows,
                columns=grid.columns,
                total_error=round(error, 5),
                worst_zone=zones[worst].number,
                worst_error=round(float(errors[worst]), 5),
                default_rate=plan.machine.default_rate,
            )
            codes = np.where(owners < 0, OUTSIDE, owners + 1).astype(np.uint8)
            return _Planned(prescription, grid, codes, said)
        tried = f"; cells of {side:.3g} m leave {100.0 * error:+.1f} %"
    message = (
        f"{plan.field.name}: no grid of up to {MOST_CELLS:,} cells carries the field's "
        f"product within {100.0 * TOTAL:g} %{tried}: make larger zones, build parts "
        'that lie far apart as fields of their own, or take "task-data" out of '
        "files.machine"
    )
    raise InputError(message)


def _owners(grid: DegreeGrid, prescription: Prescription) -> NDArray[np.int32]:
    """Return the zone of each cell; where one touches excluded ground it is of that."""
    zones = prescription.zones
    owners = grid.owners([zone.geometry for zone in zones])
    for index, zone in enumerate(zones):
        if zone.excluded is not None:
            touched = grid.touching(zone.geometry)
            rated = (owners >= 0) & np.array([one.excluded is None for one in zones])[
                owners
            ]
            owners = np.where(touched & rated, np.int32(index), owners)
    return owners


def _sides(plan: Plan) -> Iterator[float]:
    """Yield the swath, its half, its third and so on [m]."""
    widest = (plan.machine.swath or SIDE[plan.units]) * plan.metres_per_length
    return (widest / part for part in count(1))


def _raw(rate: float, prescription: Prescription) -> int:
    unit = product_rate_unit(prescription)
    factor = _SETPOINT[unit][1]
    raw = round(rate * factor)
    if raw > _MOST_RAW:
        most = f"{math.floor(_MOST_RAW / factor):,} {unit}"
        raise InputError(f"rate {rate:g} {unit} is more than task data holds, {most}")
    return raw


@dataclass(frozen=True, slots=True)
class _Listed:
    """The elements of a file by kind, each thing once."""

    elements: dict[str, dict[object, ET.Element]] = field(
        default_factory=lambda: {kind: {} for kind in _KINDS}
    )

    def element(self, kind: str, what: object, **attributes: str) -> ET.Element:
        """Return the element of a thing, a new one where it is not listed yet."""
        known = self.elements[kind]
        if what not in known:
            known[what] = ET.Element(
                kind, {"A": f"{kind}{len(known) + 1}"} | attributes
            )
        return known[what]

    def id_of(self, kind: str, what: object, **attributes: str) -> str:
        """Return the id of a thing, listed now where it was not yet."""
        return self.element(kind, what, **attributes).attrib["A"]

    def name(self, kind: str, text: str, *, key: str = "B", tail: str = "") -> str:
        """Return a designator that nothing of the kind has yet."""
        taken = {one.get(key) for one in self.elements[kind].values()}
        return designator(text, tail=tail, taken=taken)


def _list_task(listed: _Listed, number: int, planned: _Planned) -> None:
    prescription, plan = planned.prescription, planned.prescription.plan
    owner, farm = plan.field.client or NOT_STATED, plan.field.farm or NOT_STATED
    customer = listed.id_of("CTR", owner, B=listed.name("CTR", owner))
    of = listed.id_of("FRM", (owner, farm), B=listed.name("FRM", farm), I=customer)
    outline = shapely.coverage_union_all([zone.geometry for zone in prescription.zones])
    ground = listed.element(
        "PFD",
        number,
        C=listed.name("PFD", plan.field.name, key="C"),
        D=str(round(geodesic_area(outline))),
        E=customer,
        F=of,
    )
    ground.extend(_boundary(outline, version=planned.said.version))
    product = _product_name(plan.product)
    value = {
        "C": listed.id_of("PDT", product, B=listed.name("PDT", product)),
        "E": _presentation(listed, prescription),
    }
    year = "" if plan.field.year is None else f" {plan.field.year}"
    task = listed.element(
        "TSK",
        number,
        B=listed.name("TSK", plan.field.name, tail=f"{year} {plan.product.grade}"),
        C=customer,
        D=of,
        E=ground.attrib["A"],
        G="1",
        H=str(DEFAULT),
        I=str(DEFAULT),
        J=str(OUTSIDE),
    )
    task.append(_treatment(OUTSIDE, "Outside the field", 0.0, prescription, value))
    for code, zone in enumerate(prescription.zones, start=1):
        name = f"Zone {zone.number}"
        if zone.excluded is not None:
            name += ", excluded"
        task.append(_treatment(code, name, zone.rate, prescription, value))
    rate = plan.machine.default_rate
    task.append(
        _treatment(DEFAULT, "Default, position lost", rate, prescription, value)
    )
    task.append(_grid(number, planned))


def _product_name(product: Product) -> str:
    sulfur = "" if product.s is None else f" {product.s:g}S"
    return f"{product.grade}{sulfur}{' liquid' if product.form == 'liquid' else ''}"


def _presentation(listed: _Listed, prescription: Prescription) -> str:
    """Return the id of how raw values are shown: in the plan's unit."""
    unit = product_rate_unit(prescription)
    rates = [zone.rate for zone in prescription.zones]
    rates.append(prescription.plan.machine.default_rate)
    decimals = next(
        most
        for most in (0, 1, 2)
        if most == 2 or all(round(r, most) == r for r in rates)
    )
    scale = f"{1.0 / _SETPOINT[unit][1]:.12f}"
    what = (unit, decimals)
    return listed.id_of("VPN", what, B="0", C=scale, D=str(decimals), E=unit)


def _treatment(
    code: int,
    name: str,
    rate: float,
    prescription: Prescription,
    value: dict[str, str],
) -> ET.Element:
    ddi = _SETPOINT[product_rate_unit(prescription)][0]
    zone = ET.Element("TZN", A=str(code), B=name)
    ET.SubElement(zone, "PDV", {"A": ddi, "B": str(_raw(rate, prescription))} | value)
    return zone


def _boundary(outline: shapely.Geometry, *, version: str) -> Iterator[ET.Element]:
    """
    Yield the polygons of a field's boundary.

    Version 3 takes one polygon a field, with an outer ring a part; version 4 a polygon
    a part, with one outer ring.
    """
    parts = shapely.get_parts(outline).tolist()
    together = [parts] if version.startswith("3") else [[part] for part in parts]
    for each in together:
        polygon = ET.Element("PLN", A="1")
        for part in each:
            polygon.append(_ring(part.exterior, kind="1"))
        for ring in (ring for part in each for ring in part.interiors):
            polygon.append(_ring(ring, kind="2"))
        yield polygon


def _ring(ring: shapely.LinearRing, *, kind: str) -> ET.Element:
    line = ET.Element("LSG", A=kind)
    for east, north in ring.coords:
        ET.SubElement(line, "PNT", A="2", C=_degrees(north), D=_degrees(east))
    return line


def _grid(number: int, planned: _Planned) -> ET.Element:
    grid = planned.grid
    return ET.Element(
        "GRD",
        A=_degrees(grid.south),
        B=_degrees(grid.west),
        C=f"{grid.north_side:.{SIDE_DECIMALS}f}",
        D=f"{grid.east_side:.{SIDE_DECIMALS}f}",
        E=str(grid.columns),
        F=str(grid.rows),
        G=_grid_name(number),
        H=str(planned.codes.size),
        I="1",
    )


def _degrees(value: float) -> str:
    return f"{value:.{ORIGIN_DECIMALS}f}"


def _grid_name(number: int) -> str:
    return f"GRD{number:05d}"
