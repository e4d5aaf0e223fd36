"""Task data by ISO 11783-10: read as a terminal would."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import VrpError
from vrp.spatial.field import geodesic_area
from vrp.units import HECTARE

# By the data dictionary: what a setpoint's raw value of one puts on a square metre,
# 1 mg, or 0.01 mm³.
_SETPOINTS = {6: ("kg", 1e-6), 1: ("L", 0.01 * 1e-6)}


@dataclass(frozen=True, slots=True)
class Treatment:
    """A treatment zone: what a terminal applies where its code stands."""

    code: int
    name: str
    ddi: int
    raw: int
    measure: str  # kg or L
    rate: float  # [kg/ha or L/ha]
    shown: float  # to the driver
    unit: str  # of what is shown
    product: str


@dataclass(frozen=True, slots=True)
class CodeGrid:
    """Codes of treatment zones; rows go from south to north."""

    south: float  # [degree]
    west: float  # [degree]
    north_side: float  # [degree]
    east_side: float  # [degree]
    codes: NDArray[np.uint8]  # rows, columns

    @property
    def centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return longitudes of the columns and latitudes of the rows [degree]."""
        rows, columns = (np.arange(each, dtype=float) for each in self.codes.shape)
        return (
            self.west + self.east_side * (columns + 0.5),
            self.south + self.north_side * (rows + 0.5),
        )

    @property
    def cell_hectares(self) -> NDArray[np.float64]:
        """Return the area of a cell in each row, by geodesics [ha]."""
        _, middle = self.centres
        half = self.north_side / 2.0
        boxes = [
            shapely.box(0.0, north - half, self.east_side, north + half)
            for north in middle.tolist()
        ]
        return np.array([geodesic_area(box) for box in boxes]) / HECTARE


@dataclass(frozen=True, slots=True)
class Task:
    """One field's task."""

    name: str
    area: float  # [m²]
    boundary: shapely.MultiPolygon  # longitude, latitude
    treatments: dict[int, Treatment]
    default: int
    position_lost: int
    outside: int
    grid: CodeGrid

    @property
    def product(self) -> float:
        """Return the product on all cells [kg or L]."""
        rates = np.zeros(256)
        for code, one in self.treatments.items():
            rates[code] = one.rate
        return float((rates[self.grid.codes] * self.grid.cell_hectares[:, None]).sum())


@dataclass(frozen=True, slots=True)
class TaskData:
    """A folder of task data."""

    version: str
    tasks: tuple[Task, ...]


def read(folder: Path) -> TaskData:
    """Return the tasks of the TASKDATA below a folder; raise at the first fault."""
    root = _root(folder)
    known: dict[str, ET.Element] = {}
    for one in root:
        name = one.get("A", "")
        if name in known:
            raise VrpError(f"id {name} stands twice")
        if not re.fullmatch(rf"{one.tag}[1-9]\d*", name):
            raise VrpError(f"id {name!r} does not fit an element {one.tag}")
        known[name] = one
    origin = root.get("DataTransferOrigin")
    if origin != "1":
        raise VrpError(f"origin is {origin}, not 1, an office's software")
    version = f"{root.get('VersionMajor')}.{root.get('VersionMinor')}"
    if version not in ("3.3", "4.3"):
        raise VrpError(f"version is {version}, not 3.3 or 4.3")
    tasks = tuple(_task(one, known, folder, version) for one in root.iter("TSK"))
    if not tasks:
        raise VrpError("TASKDATA.XML holds no task")
    return TaskData(version, tasks)


def _root(folder: Path) -> ET.Element:
    # Terminals mind the case of names even where this computer does not.
    below = {path.name: path for path in folder.glob("*")}
    if "TASKDATA" not in below:
        raise VrpError("the folder TASKDATA is missing")
    held = {path.name: path for path in below["TASKDATA"].iterdir()}
    if "TASKDATA.XML" not in held:
        raise VrpError("TASKDATA.XML is missing")
    content = held["TASKDATA.XML"].read_bytes()
    if not content.startswith(b'<?xml version="1.0" encoding="UTF-8"?>'):
        raise VrpError("TASKDATA.XML does not begin as XML in UTF-8 without a mark")
    try:
        root = ET.fromstring(content)
    except ET.ParseError as exc:
        raise VrpError(f"TASKDATA.XML is no XML: {exc}") from exc
    if root.tag != "ISO11783_TaskData":
        raise VrpError(f"TASKDATA.XML holds {root.tag}, not ISO11783_TaskData")
    return root


def _task(
    element: ET.Element, known: Mapping[str, ET.Element], folder: Path, version: str
) -> Task:
    name = element.get("B", "")
    if element.get("G") != "1":
        raise VrpError(f"task {name}: status is {element.get('G')}, not 1, planned")
    _named(element, "C", "CTR", known)
    _named(element, "D", "FRM", known)
    ground = _named(element, "E", "PFD", known)
    treatments: dict[int, Treatment] = {}
    for one in element.findall("TZN"):
        found = _treatment(one, known)
        if found.code in treatments:
            raise VrpError(f"task {name}: code {found.code} stands for two zones")
        treatments[found.code] = found
    special = {}
    for key, word in (("H", "default"), ("I", "position-lost"), ("J", "out-of-field")):
        if element.get(key) is None:
            raise VrpError(f"task {name}: states no {word} zone")
        special[word] = _whole(element, key)
        if special[word] not in treatments:
            message = f"task {name}: {word} zone {special[word]} is not defined"
            raise VrpError(message)
    grids = element.findall("GRD")
    if len(grids) != 1:
        raise VrpError(f"task {name}: holds {len(grids)} grids, not one")
    grid = _grid(grids[0], folder / "TASKDATA")
    undefined = sorted(set(np.unique(grid.codes).tolist()) - set(treatments))
    if undefined:
        message = f"task {name}: cells hold code {undefined[0]}, which is not defined"
        raise VrpError(message)
    return Task(
        name,
        _number(ground, "D"),
        _boundary(ground, version),
        treatments,
        special["default"],
        special["position-lost"],
        special["out-of-field"],
        grid,
    )


def _treatment(element: ET.Element, known: Mapping[str, ET.Element]) -> Treatment:
    code = _whole(element, "A")
    if not 0 <= code <= 254:
        raise VrpError(f"code {code} of a zone is not within 0 and 254")
    values = element.findall("PDV")
    if len(values) != 1:
        raise VrpError(f"code {code}: holds {len(values)} values, not one")
    (value,) = values
    ddi, raw = value.get("A", ""), _whole(value, "B")
    if not re.fullmatch("[0-9A-F]{4}", ddi):
        raise VrpError(f"code {code}: DDI {ddi!r} is not four hexadecimal digits")
    if int(ddi, 16) not in _SETPOINTS:
        raise VrpError(f"code {code}: DDI {ddi} is no setpoint of mass or volume")
    measure, one = _SETPOINTS[int(ddi, 16)]
    product = _named(value, "C", "PDT", known).get("B", "")
    shown = _named(value, "E", "VPN", known)
    seen = (raw + _whole(shown, "B")) * _number(shown, "C")
    return Treatment(
        code,
        element.get("B", ""),
        int(ddi, 16),
        raw,
        measure,
        raw * one * HECTARE,
        round(seen, _whole(shown, "D")),
        shown.get("E", ""),
        product,
    )


def _grid(element: ET.Element, folder: Path) -> CodeGrid:
    name = element.get("G", "")
    if element.get("I") != "1":
        raise VrpError(f"grid {name}: type is {element.get('I')}, not 1, codes")
    rows, columns = _whole(element, "F"), _whole(element, "E")
    held = {path.name: path for path in folder.iterdir()}
    if f"{name}.bin" not in held:
        raise VrpError(f"{name}.bin is missing")
    content = held[f"{name}.bin"].read_bytes()
    if len(content) != rows * columns:
        message = f"{name}.bin holds {len(content)} bytes, not {rows} × {columns}"
        raise VrpError(message)
    if _whole(element, "H") != len(content):
        message = f"{name}.bin holds {len(content)} bytes, not the {element.get('H')}"
        raise VrpError(f"{message} that its grid states")
    codes = np.frombuffer(content, np.uint8).reshape(rows, columns)
    south, west = _number(element, "A"), _number(element, "B")
    if abs(south) > 90.0 or abs(west) > 180.0:
        message = f"grid {name} begins at {south} north, {west} east"
        raise VrpError(f"{message}: north and east are swapped")
    return CodeGrid(south, west, _number(element, "C"), _number(element, "D"), codes)


def _boundary(ground: ET.Element, version: str) -> shapely.MultiPolygon:
    name, polygons = ground.get("C", ""), []
    for number, element in enumerate(ground.findall("PLN"), start=1):
        rings: dict[str, list[shapely.Polygon]] = {"1": [], "2": []}
        for line in element.findall("LSG"):
            points = [
                (_number(one, "D"), _number(one, "C")) for one in line.findall("PNT")
            ]
            if len(points) < 4 or points[0] != points[-1]:
                message = f"field {name}: a ring of polygon {number} is open"
                raise VrpError(f"{message}, its first point is not its last")
            kind = line.get("A", "")
            if kind not in rings:
                message = f"field {name}: a ring of polygon {number} is of type {kind}"
                raise VrpError(f"{message}, not 1 or 2")
            rings[kind].append(shapely.Polygon(points))
        outer, inner = rings["1"], rings["2"]
        if not outer or (len(outer) > 1 and version.startswith("4")):
            message = f"field {name}: polygon {number} has {len(outer)} outer rings"
            raise VrpError(f"{message}, not one")
        polygons += [
            shapely.Polygon(
                one.exterior, [hole.exterior for hole in inner if one.covers(hole)]
            )
            for one in outer
        ]
    return shapely.MultiPolygon(polygons)


def _named(
    element: ET.Element, key: str, kind: str, known: Mapping[str, ET.Element]
) -> ET.Element:
    found = known.get(element.get(key, ""))
    if found is None or found.tag != kind:
        message = f"{element.tag} refers to {element.get(key)}, which is no {kind}"
        raise VrpError(message)
    return found


def _number(element: ET.Element, key: str) -> float:
    text = element.get(key)
    # Digits alone: float would take nan, 1_0 and blanks as well.
    if not re.fullmatch(r"-?\d+(\.\d+)?", text or "", re.ASCII):
        raise VrpError(f"{element.tag}: {key} is {text!r}, no number")
    return float(text or "")


def _whole(element: ET.Element, key: str) -> int:
    value = _number(element, key)
    if not value.is_integer():
        raise VrpError(f"{element.tag}: {key} is {element.get(key)}, no whole number")
    return int(value)
