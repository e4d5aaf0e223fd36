"""What the steps hand on: ground as read, asked about, estimated and parted."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vrp.agronomy.guidelines import Guideline
from vrp.agronomy.layers import Layers
from vrp.agronomy.need import NeedCurve, Season
from vrp.agronomy.water import RuleSet
from vrp.evidence import Source
from vrp.plan import Override, Plan
from vrp.prescription import Skill
from vrp.rates import Excluded
from vrp.spatial.field import Field, Samples
from vrp.spatial.grid import Cells
from vrp.spatial.layer_values import LayerValues
from vrp.spatial.regions import Shape, Shapes
from vrp.spatial.setbacks import WaterFeatures
from vrp.spatial.slope import Terrain
from vrp.spatial.surface import Surface
from vrp.spatial.zones import given_polygons

# Of a soil test, before anything is looked up for it: what is printed counts.
DECIMALS = 2

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Areas:
    """A figure by polygon, in the field's CRS: yield goals, or a credit."""

    file: str
    rows: tuple[int, ...]
    shapes: Shapes
    values: Floats

    def names(self) -> list[str]:
        """Return what messages call the polygons."""
        return [f"{self.file} feature {row}" for row in self.rows]


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that was read for a field beside its plan; shapes in the field's CRS."""

    field: Field
    samples: Samples
    used_outside: tuple[int, ...]  # rows
    dropped: tuple[int, ...]  # rows
    notes: tuple[str, ...]  # on how the files were understood
    guideline_id: str
    guideline: Guideline
    zones: Shapes | None
    overrides: tuple[Shapes | None, ...]  # one for each of the plan's
    yields: tuple[Areas | None, ...]  # one for each season
    credits: tuple[Areas | None, ...]  # one for each of the plan's
    layers: tuple[Layers, ...] = ()  # of each sample, where cores were cut
    apart: tuple[Shape, ...] = ()  # parts of the field on different sides of barriers
    terrain: Terrain | None = None  # where heights were given
    p_index: Areas | None = None  # where it is given by polygons
    water: tuple[WaterFeatures, ...] = ()  # by file
    rules: tuple[RuleSet, ...] = ()  # on water
    zone_layers: tuple[LayerValues | None, ...] = ()  # None: the map's soil test


@dataclass(frozen=True, slots=True)
class Keep:
    """Features of a file and kind, and how far product is kept from them."""

    kind: str
    file: str
    rows: tuple[int, ...]
    shapes: Shapes
    nearest: Floats  # of each, to the field [m]
    distance: float | None  # None where the boundary was drawn with it [m]
    said: float | None  # the same in the plan's unit of length
    rule: str
    source: Source
    asked: float | None = None  # what rules ask for, where the plan keeps less
    forbidden: bool = False  # to come nearer than that, by the rule


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of the guideline: need curves, and which holds on each cell."""

    plan: Plan
    inputs: Inputs
    cells: Cells
    curves: tuple[NeedCurve, ...]
    which: NDArray[np.intp]  # curve of each cell
    goals: tuple[Floats, ...]  # by season, on each cell
    typical: tuple[Season, ...]  # with the mean of the goals
    curve: NeedCurve  # of the typical seasons
    credits: tuple[Floats, ...]  # of P2O5, by credit, on each cell [kg/ha]
    keeps: tuple[Keep, ...] = ()  # from water


@dataclass(frozen=True, slots=True)
class Composite:
    """A composite's soil test, in the guideline's unit, and the ground it is for."""

    shape: Shape
    soil_test: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """The soil test on the cells, in the guideline's unit, and how far to trust it."""

    value: Floats
    observed: Floats  # at the samples
    composite: float  # of the whole field
    ground: tuple[Composite, ...] = ()  # without a surface
    surface: Surface | None = None
    verdict: str | None = None
    skill_soil_test: Skill | None = None
    skill_need: Skill | None = None


@dataclass(frozen=True, slots=True)
class Needs:
    """Need of P2O5 on the cells [kg/ha], and over the estimate's error."""

    at: Floats  # the estimate
    chosen: Floats  # by the plan's basis: at the estimate, or with expected build-up
    left: Floats  # of what is chosen, by the credits
    expected: Floats | None
    short: Floats | None


@dataclass(frozen=True, slots=True)
class Part:
    """Ground that becomes a zone."""

    shape: Shape  # field's CRS
    lonlat: Shape
    cells: NDArray[np.intp]
    override: Override | None
    # Its figures are means over these: its ground before a setback was taken out, so
    # that water which is given never raises a rate.
    basis: NDArray[np.intp]
    whole: Shape
    excluded: Excluded | None = None
    strip: bool = False  # excluded since a machine there would throw into a setback


def sampled(inputs: Inputs) -> list[tuple[int, Shape]]:
    """Return the ground of each composite, made to tile the field."""
    samples = inputs.samples
    names = [f"{samples.file} row {row}" for row in samples.rows]
    return given_polygons(inputs.field.outline, list(samples.shape), names=names)
