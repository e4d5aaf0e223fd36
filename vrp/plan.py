"""What a field file asks for, as typed values in the units that its writer chose."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, get_args

from pydantic import AfterValidator, Field, StringConstraints

from vrp.plan_values import (
    NotNegative,
    Percent,
    Position,
    Positive,
    PositiveRate,
    Rate,
    Text,
    table,
)
from vrp.units import ACRE, FOOT, HECTARE, INCH, SoilTestUnit, System
from vrp.water_plan import WaterPlan

if TYPE_CHECKING:
    from vrp.agronomy.water_bearing import Spread

Method = Literal[
    "bray-p1",
    "bray-p2",
    "mehlich-3-icp",
    "mehlich-3-colorimetric",
    "olsen",
    "morgan",
    "modified-morgan",
]
Kind = Literal["point", "cell", "zone"]
Day = date  # where a key is called date as well
MapFormat = Literal["geojson", "geopackage", "style", "csv", "raster"]
TaskDataVersion = Literal["3.3", "4.3"]
Placement = Literal[
    "broadcast", "incorporated", "band", "deep-band", "starter-2x2", "seed-row"
]


@table
class FieldName:
    """``[field]``: what the field is called."""

    name: Text
    client: Text | None = None
    farm: Text | None = None
    year: Annotated[int, Field(ge=1900, le=2200, strict=True)] | None = None
    texture: Literal["sandy", "medium", "fine"] | None = None


@table
class SampleTable:
    """``[samples]``: where the laboratory's results stand and what they mean."""

    file: Path
    kind: Kind = "point"
    x: Text | None = None
    y: Text | None = None
    crs: Text | None = None
    points: Path | None = None
    id: Text | None = None
    soil_test: Text
    method: Method
    unit: SoilTestUnit
    depth: Positive
    depth_from: Text | None = None
    depth_to: Text | None = None
    sampled: date | None = None
    ph: Text | None = None
    organic_matter: Text | None = None
    bray_p2: Text | None = None
    lab_cv: Percent | None = None
    expressed_as: Literal["P", "P2O5"] | None = None
    computed_from: Method | None = None
    convert: Text | None = None
    barriers: Path | None = None

    @property
    def counted_method(self) -> str:
        """Method that a guideline meets: the laboratory's, or a conversion's."""
        if self.convert is None:
            return self.method
        from vrp.agronomy.conversions import conversion

        return conversion(self.convert, method=self.method).to_method


@table
class YieldMap:
    """A yield goal that differs within the field: polygons with a column."""

    file: Path
    column: Text


@table
class GrainP:
    """Phosphorus that was measured in a harvest, in place of a table's removal."""

    percent: Percent  # P in the dry matter
    dry_matter: Percent


@table
class SeasonPlan:
    """``[[season]]``: a crop, its yield goal, and what is spread and taken beside."""

    crop: Text
    yield_goal: Positive | YieldMap
    residue: Literal["left", "removed"] | None = None
    straw_yield: Positive | None = None  # ton/ac or t/ha
    moisture: Annotated[float, Field(ge=0, lt=100, strict=True)] | None = None
    grain_p: GrainP | None = None
    p2o5: NotNegative | None = None  # by another application, in a later season


@table
class PastTest:
    """``[[balance.history]]``: a field's mean soil test, and P2O5 since the last."""

    year: Annotated[int, Field(ge=1900, le=2200, strict=True)]
    soil_test: Positive
    applied: NotNegative | None = None
    removed: NotNegative | None = None


@table
class BalancePlan:
    """``[balance]``: what harvests take, and what the field's own past says."""

    removal: Text | None = None
    bulk_density: Annotated[float, Field(gt=0, le=2.65, strict=True)] | None = None
    history: tuple[PastTest, ...] = ()


@table
class CreditMap:
    """A credit that differs within the field: polygons with a column of P2O5."""

    file: Path
    column: Text


def _no_share(percent: float) -> float:
    if percent <= 1.0:
        raise ValueError("write a percent, such as 80 for 80 %")
    return percent


@table
class Manure:
    """What manure brings: amount x content x share that counts."""

    amount: Positive  # units per acre or hectare
    unit: Literal["ton", "1000 gal", "t", "m3"]
    p2o5: Positive  # lb or kg in each
    available: Annotated[Percent, AfterValidator(_no_share)]


@table
class Credit:
    """``[[credit]]``: P2O5 that comes from elsewhere, taken off the need."""

    name: Text
    p2o5: NotNegative | CreditMap | None = None
    manure: Manure | None = None
    surplus: Annotated[bool, Field(strict=True)] = False
    source: Text


@table
class Override:
    """``[[override]]``: a need set by hand, for a zone or for polygons of its own."""

    p2o5: NotNegative
    reason: Text
    point: Position | None = None
    file: Path | None = None


@table
class NeedPlan:
    """``[need]``: by which guideline, and how far."""

    guideline: Text | None = None
    region: Text | None = None
    build_years: Annotated[int, Field(gt=0, strict=True)] | None = None
    pool: Annotated[bool, Field(strict=True)] = False
    build_up: Annotated[bool, Field(strict=True)] = True
    basis: Literal["estimate", "expected"] = "estimate"
    min_p2o5: NotNegative = 0.0
    max_p2o5: Positive | None = None


@table
class ZoneLayer:
    """A layer of ``zones.layers``: a file with its values, or the map's soil test."""

    file: Path | None = None
    column: Text | None = None
    band: Annotated[int, Field(ge=1, strict=True)] | None = None
    radius: Positive | None = None
    soil_test: Annotated[bool, Field(strict=True)] = False
    weight: Positive = 1.0


@table
class ZonesPlan:
    """``[zones]``: how the field is parted."""

    seed: Annotated[int, Field(ge=0, strict=True)] = 1
    cell: Positive | None = None
    by: Literal["need", "grid", "file", "samples", "layers"] | None = None
    side: Positive | None = None
    file: Path | None = None
    min_area: NotNegative | None = None
    min_width: NotNegative | None = None
    count: Annotated[int, Field(ge=2, le=20, strict=True)] | None = None
    layers: tuple[ZoneLayer, ...] = ()
    parts: Literal["multi", "single"] = "multi"
    on_weak_map: Literal["uniform", "keep"] = "uniform"


@table
class Product:
    """``[product]`` and ``[[alternative]]``: a fertilizer, by its grade."""

    # A column of 20 characters holds it.
    grade: Annotated[
        str, StringConstraints(max_length=20, pattern=r"^\d+(\.\d+)?(-\d+(\.\d+)?){2}$")
    ]
    material: Literal["fertilizer", "manure"] = "fertilizer"
    s: Percent | None = None
    form: Literal["granular", "liquid"] = "granular"
    density: Positive | None = None  # lb/gal or kg/L
    price: Positive | None = None  # per ton or tonne, gallon or litre
    nitrogen_price: NotNegative | None = None  # per lb or kg of N


def measure(units: System, product: Product) -> str:
    """Return what a product is measured in."""
    if product.form == "liquid":
        return "gal" if units == "us" else "L"
    return "lb" if units == "us" else "kg"


@table
class Application:
    """``[application]``: when it is spread, and where it comes to lie."""

    date: Day | None = None
    method: Placement | None = None
    incorporated_within: Positive | None = None  # hours
    depth: Positive | None = None
    row_spacing: Positive | None = None
    band_factor: Annotated[float, Field(gt=0, le=1, strict=True)] = 1.0
    tillage: Literal["no-till", "tilled"] | None = None
    tillage_depth: Positive | None = None


def spread_of(product: Product, application: Application | None) -> "Spread":
    """Return what is spread, and how, as rules on water see it."""
    from vrp.agronomy.water_bearing import Spread

    placed = application or Application()
    return Spread(
        material=product.material,
        form=product.form,
        method=placed.method,
        worked_in=placed.incorporated_within,
        tillage=placed.tillage,
    )


@table
class Machine:
    """``[machine]``: what the spreader can do; what is absent is not assumed."""

    min_rate: Rate = 0.0
    max_rate: PositiveRate | None = None
    step: PositiveRate | None = None
    swath: Positive | None = None
    border: Annotated[bool, Field(strict=True)] = False  # throws nothing past its side
    default_rate: Rate = 0.0
    margin: Percent | None = None  # loaded beyond the map's product


@table
class FilesPlan:
    """``[files]``: in which formats the map is written."""

    map: Annotated[tuple[MapFormat, ...], Field(min_length=1)] = get_args(MapFormat)
    machine: Annotated[
        tuple[Literal["shapefile", "task-data"], ...], Field(min_length=1)
    ] = ("shapefile", "task-data")
    task_data_version: TaskDataVersion = "3.3"
    report: Annotated[bool, Field(strict=True)] = True
    job_sheet: Annotated[bool, Field(strict=True)] = True


@table
class Plan:
    """The field file once read and checked."""

    units: System
    boundary: Path
    field: FieldName
    samples: SampleTable
    season: Annotated[tuple[SeasonPlan, ...], Field(min_length=1)]
    need: NeedPlan = Field(default_factory=NeedPlan)
    credit: tuple[Credit, ...] = ()
    override: tuple[Override, ...] = ()
    zones: ZonesPlan = Field(default_factory=ZonesPlan)
    product: Product
    alternative: tuple[Product, ...] = ()
    application: Application | None = None
    machine: Machine = Field(default_factory=Machine)
    water: WaterPlan | None = None
    files: FilesPlan = Field(default_factory=FilesPlan)
    balance: BalancePlan = Field(default_factory=BalancePlan)
    accept: dict[Text, Text] = Field(default_factory=dict)
    confirm: dict[Text, Text] = Field(default_factory=dict)

    @property
    def measure(self) -> str:
        """What the product is measured in: pounds, kilograms, gallons or litres."""
        return measure(self.units, self.product)

    @property
    def metres_per_length(self) -> float:
        """Metres in the plan's unit of length, foot or metre."""
        return FOOT if self.units == "us" else 1.0

    @property
    def square_metres_per_area(self) -> float:
        """Square metres in the plan's unit of area, acre or hectare."""
        return ACRE if self.units == "us" else HECTARE

    @property
    def sample_depth(self) -> float:
        """Depth of the samples [cm]."""
        depth = self.samples.depth
        return depth * INCH * 100.0 if self.units == "us" else depth
