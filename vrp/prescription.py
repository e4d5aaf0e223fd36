"""What to spread, zone by zone, and how it came about; nothing here computes."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy.cautions import Caution
from vrp.agronomy.water import RuleSet
from vrp.agronomy.water_facts import ZoneWater
from vrp.evidence import Finding, LedgerLine, Source
from vrp.plan import Plan
from vrp.spatial.calibration import Calibration
from vrp.spatial.variogram import Model


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of the field with one rate; figures in the plan's units, rounded."""

    number: int
    geometry: shapely.Polygon | shapely.MultiPolygon  # longitude, latitude
    area: float  # [ac or ha]
    soil_class: str
    soil_test: float
    soil_test_low: float | None
    soil_test_high: float | None
    probability_short: float | None
    yield_goal: float
    need: float  # P2O5 [lb/ac or kg/ha]
    expected_need: float | None
    rate: float  # product [lb/ac, kg/ha, gal/ac or L/ha]
    applied: float  # P2O5 [lb/ac or kg/ha]
    nitrogen: float  # [lb/ac or kg/ha]
    k2o: float | None  # where the product has any [lb/ac or kg/ha]
    sulfur: float | None  # where the product has any [lb/ac or kg/ha]
    total: float  # product [lb, kg, gal or L]
    note: str
    ledger: tuple[LedgerLine, ...]
    excluded: str | None = None  # why nothing is spread there


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample where it lies; a composite at a place inside its ground."""

    row: int  # of its file
    id: str  # empty where the file has none
    longitude: float
    latitude: float
    soil_test: float  # in the guideline's unit


@dataclass(frozen=True, slots=True, eq=False)
class SoilTestMap:
    """The surface on square cells, rows from the north; NaN outside the field."""

    estimate: NDArray[np.float32]  # in the guideline's unit
    error: NDArray[np.float32]  # its standard error, in the same
    short: NDArray[np.float32]  # probability of being below the critical level
    west: float  # edge of the first column [m]
    north: float  # edge of the first row [m]
    cell: float  # side of a cell [m]
    crs: str  # well-known text


@dataclass(frozen=True, slots=True)
class Amounts:
    """Nutrients [lb or kg], product [lb, kg, gal or L] and cost on the whole field."""

    p2o5_need: float
    p2o5_applied: float
    nitrogen: float
    product: float
    cost: float | None  # where a price is given, in its unit


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over the zones, beside the guideline's rate at the field's composite."""

    area: float
    unit: str  # of nutrients
    product_unit: str
    zones: Amounts
    uniform: Amounts
    uniform_rate: float
    composite: float
    # 80 % interval of the need that the true soil would ask for, after credits.
    need_low: float | None = None
    need_high: float | None = None
    excluded_area: float = 0.0  # of zones where nothing is spread

    @property
    def treated_area(self) -> float:
        """Area of the ground that is not excluded, which one rate is for as well."""
        return self.area - self.excluded_area


@dataclass(frozen=True, slots=True)
class Skill:
    """
    Share of the field mean's squared error that the surface removes.

    With 80 % intervals from blocks of samples drawn anew, None where there is but one
    block, and the most that the nugget leaves to any map, None without a variogram.
    """

    leave_one_out: float
    blocked: float
    leave_one_out_low: float | None
    leave_one_out_high: float | None
    blocked_low: float | None
    blocked_high: float | None
    most: float | None


@dataclass(frozen=True, slots=True)
class Skills:
    """Skill in the soil test and in the need; None where neither map nor mean errs."""

    soil_test: Skill | None
    need: Skill | None


@dataclass(frozen=True, slots=True)
class Candidate:
    """
    Root mean squared error of one way to estimate, in the soil test's unit.

    `difference` is its blocked mean squared error less that of the way that was taken,
    with its standard error from the blocks: below 0 where it is nearer.
    """

    method: str
    leave_one_out: float | None
    blocked: float | None
    chosen: bool = False
    difference: float | None = None
    standard_error: float | None = None


@dataclass(frozen=True, slots=True)
class Bin:
    """Pairs of samples at like distance, on the scale of the variogram."""

    pairs: int
    distance_m: float  # mean
    semivariance: float
    robust: float | None = None  # as the differences' fourth root tells it


@dataclass(frozen=True, slots=True)
class Variogram:
    """Model of the surface's variogram; on the log scale where the surface is."""

    model: Model
    log: bool
    nugget: float
    partial_sill: float
    range_m: float
    bins: tuple[Bin, ...] = ()  # what it was fitted to
    smoothness: float | None = None  # of a Matern model
    angle: float = 0.0  # of the longest range, degrees clockwise from the CRS's north
    ratio: float = 1.0  # the longest range over the shortest; 1: all directions alike


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A sample, and what the surface makes of it without it, in its unit."""

    observed: float
    leave_one_out: float | None
    blocked: float | None  # without its neighbours


@dataclass(frozen=True, slots=True)
class SurfaceFacts:
    """How the surface was made, and how far it can be trusted."""

    method: str
    reason: str
    samples: int
    spacing_m: float | None
    variogram: Variogram | None
    candidates: tuple[Candidate, ...]
    skill: Skills
    verdict: str
    calibration: Calibration | None  # None without kriging
    left_out: tuple[LeftOut, ...] = ()  # one for each position
    best: str = ""  # candidate of the least blocked error
    simplest: str = ""  # the simplest within one standard error of the best
    clustering: float | None = None  # ground's distance to samples over samples' own


@dataclass(frozen=True, slots=True)
class DrawnZones:
    """What zones that were not drawn from the soil test tell of it."""

    zones: int  # that hold a sample
    samples: int
    between: float  # share of the samples' variance that lies between the zones
    by_chance: float  # what zones drawn blindly would have of it
    leave_one_out: float | None  # share of the field mean's error that their means take
    blocked: float | None  # the same with the block left out; None for composites


@dataclass(frozen=True, slots=True)
class GuidelineFacts:
    """Which guideline was applied."""

    id: str
    title: str
    source: str
    status: str
    region: str | None
    build_years: int | None
    soil_test_unit: str
    critical: float
    no_need_above: float | None


@dataclass(frozen=True, slots=True)
class SeasonFacts:
    """
    What one season alone needs in a zone, and what it leaves; P2O5 in the plan's unit.

    The balance is what was applied less what was removed up to and with this season;
    the soil test after it is a band. None where no figure was found.
    """

    zone: int
    crop: str
    yield_goal: float
    yield_unit: str
    need: float
    applied: float
    removal: float | None
    balance: float | None
    stp_low: float | None
    stp_mid: float | None
    stp_high: float | None
    stp_straight: float | None  # what a straight budget would promise


@dataclass(frozen=True, slots=True)
class ProductFacts:
    """A product on the whole field, the plan's or one to compare with it."""

    grade: str
    s: float | None  # [percent]
    form: str
    unit: str  # of the rates
    lowest_rate: float  # above 0
    highest_rate: float
    total: float
    total_unit: str
    p2o5_applied: float  # [lb or kg]
    nitrogen: float  # [lb or kg]
    price_unit: str
    price_p2o5: float | None  # of one lb or kg, its N priced first where it has a price
    cost: float | None
    cost_area: float | None  # by acre or hectare


@dataclass(frozen=True, slots=True)
class Zoned:
    """What rates by zone misplace, against the need that is estimated at each cell."""

    zones: int
    under: float  # P2O5 that places go without [lb or kg]
    over: float  # P2O5 that places get beyond their need [lb or kg]
    misplaced: float  # both, an acre or hectare [lb/ac or kg/ha]
    product: float  # [lb, kg, gal or L]
    cost: float | None  # where a price is given, in its unit


@dataclass(frozen=True, slots=True)
class ClusterCriteria:
    """How well layers part into a number of clusters; no figure alone decides."""

    clusters: int
    variance_left: float  # share of the layers' own within clusters
    silhouette: float | None  # -1 to 1, the more the better
    calinski_harabasz: int  # the more the better
    davies_bouldin: float  # the less the better
    misplaced: float  # P2O5, as the clusters would be zones [lb/ac or kg/ha]


@dataclass(frozen=True, slots=True)
class LayerFacts:
    """A layer that zones were drawn from, as it lies on the cells."""

    name: str
    weight: float
    how: str  # its values were found on the cells
    low: float
    high: float
    missing: float  # share of the field without a value


@dataclass(frozen=True, slots=True)
class ZoningFacts:
    """What zones are worth, by their number; rates as the spreader makes them."""

    by: str
    count: int | None  # bands or clusters that the zones came from
    fewest: int | None  # bands that the guideline's limits leave
    knee: int | None  # bands after which more are not worth their while
    worth: float  # what each more must save for that, in the guideline's unit
    min_width: float  # of the ground of a zone, 0 for none [ft or m]
    one_rate: Zoned | None  # the guideline's rate at the field's composite
    bands: tuple[Zoned, ...]  # bands of need, as they would become zones
    built: Zoned | None  # the zones of this map
    criteria: tuple[ClusterCriteria, ...] = ()
    layers: tuple[LayerFacts, ...] = ()  # that the clusters came from


@dataclass(frozen=True, slots=True)
class Setback:
    """How far product is kept from features of a file and kind, in feet or metres."""

    kind: str
    file: str
    features: tuple[int, ...]  # of the file: those that keep ground of the field
    distance: float | None  # None where the boundary was drawn with it
    no_drive: float | None  # the distance and the throw; None likewise
    nearest: float  # from the field to the nearest of them
    area: float  # of the field within the distance [ac or ha]
    rule: str
    source: Source


@dataclass(frozen=True, slots=True, eq=False)
class WaterLines:
    """What drawings show of water, in longitude and latitude."""

    features: shapely.Geometry  # near the field
    no_apply: shapely.Geometry  # lines in the field: nothing is spread beyond
    no_drive: shapely.Geometry  # lines in the field: nothing is driven beyond


@dataclass(frozen=True, slots=True)
class WaterFacts:
    """
    What distances from water keep out of a field, in the plan's units.

    Ground within a distance gets nothing. The strip beside it, half a swath wide, is
    not driven and has rate 0 as well; the pass along it throws product there.
    """

    setbacks: tuple[Setback, ...]
    throw: float | None  # half the swath, 0 with border spreading; None: not known
    kept_area: float  # [ac or ha]
    kept_p2o5: float  # the guideline's need there, after credits [lb or kg]
    kept_product: float  # that would meet it
    strip_area: float  # [ac or ha]
    strip_product: float  # about what is thrown there, beside the map's total
    lines: WaterLines | None = None  # None where read back from a folder


@dataclass(frozen=True, slots=True)
class MachineGrid:
    """How far the grid of the task data is from the zones that it stands for."""

    version: str
    cell: float  # [ft or m]
    rows: int
    columns: int
    total_error: float  # share of the field's product
    worst_zone: int
    worst_error: float  # share of that zone's area
    default_rate: float  # and where position is lost [unit of the rates]


@dataclass(frozen=True, slots=True)
class Prescription:
    """The result of a run."""

    plan: Plan
    cell: float  # [ft or m]
    samples: tuple[Sample, ...]
    zones: tuple[Zone, ...]
    totals: Totals
    surface: SurfaceFacts | None
    soil_test_map: SoilTestMap | None
    guideline: GuidelineFacts
    seasons: tuple[SeasonFacts, ...]
    products: tuple[ProductFacts, ...]
    findings: tuple[Finding, ...]
    grid: MachineGrid | None = None  # as written to the task data
    water: WaterFacts | None = None  # None where no features were given
    water_zones: tuple[ZoneWater, ...] = ()  # most against it first
    rules: tuple[RuleSet, ...] = ()  # on water, as the plan names them
    cautions: tuple[Caution, ...] = ()  # what a person is told beside the figures
    zoning: ZoningFacts | None = None  # None for composites, but by layers
    drawn: DrawnZones | None = None  # None for zones from the soil test's own map

    @property
    def held_back(self) -> bool:
        """Whether a finding holds the machine files back."""
        return any(one.holds_back for one in self.findings)
