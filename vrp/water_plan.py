"""``[water]``: what a field file says of water near or in the field."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from vrp.plan_values import NotNegative, Text, table

WaterKind = Literal[
    "stream",
    "ditch",
    "lake",
    "wetland",
    "well",
    "tile-inlet",
    "sinkhole",
    "slope",
    "other",
]


@table
class FeatureFile:
    """A file of ``water.features``: of which kind they are, and how far to keep."""

    file: Path
    kind: WaterKind | None = None
    column: Text | None = None  # that names the kind of each feature
    distance: NotNegative | None = None
    already_set_back: Annotated[bool, Field(strict=True)] = False


@table
class IndexMap:
    """An index that differs within the field: polygons with a column."""

    file: Path
    column: Text


@table
class IndexPlan:
    """``water.p_index``: a phosphorus index that was computed elsewhere."""

    set: Literal["iowa"]
    value: NotNegative | IndexMap


@table
class ScreenPlan:
    """``water.manure_screen``: what a table on manure asks beside test and distance."""

    erosion: NotNegative  # sheet and rill, ton/ac or t/ha a year
    filter_strip: Annotated[bool, Field(strict=True)]


def _as_table(given: object) -> object:
    return {"file": given} if isinstance(given, str | Path) else given


def _as_list(given: object) -> object:
    return (given,) if isinstance(given, str) else given


@table
class WaterPlan:
    """``[water]``: what lies near or in the field, and how far product is kept off."""

    features: tuple[
        Annotated[
            FeatureFile,
            BeforeValidator(_as_table, json_schema_input_type=str | FeatureFile),
        ],
        ...,
    ] = ()
    distance: dict[WaterKind, NotNegative] = Field(default_factory=dict)
    rules: Annotated[
        tuple[Text, ...],
        BeforeValidator(_as_list, json_schema_input_type=str | tuple[str, ...]),
    ] = ()
    elevation: Path | None = None
    elevation_unit: Literal["m", "ft"] | None = None
    p_index: IndexPlan | None = None
    manure_screen: ScreenPlan | None = None
