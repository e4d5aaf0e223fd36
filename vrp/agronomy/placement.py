"""Where phosphate comes to lie, what the seed row bears, and what bands were worth."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked

from vrp.agronomy.complaints import complaint
from vrp.agronomy.figures import STRICT, Cited, Number, Range, Text
from vrp.errors import GuidelineError
from vrp.evidence import Source

Texture = Literal["sandy", "medium", "fine"]
Share = Annotated[float, Field(strict=True, ge=0, le=1)]


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Known:
    """
    A figure with its source.

    Attributes
    ----------
    value : float
        In `unit`.
    unit : str
        Its unit, empty for a bare number.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: Number
    unit: Literal["", "in"]
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Span(Range):
    """
    Two ends with their unit.

    Attributes
    ----------
    unit : str
        Its unit.
    """

    unit: Literal["in"]


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Implement:
    """
    How an implement mixes the soil.

    Attributes
    ----------
    efficiency : float
        Share of a layer's phosphorus that it spreads evenly over its depth.
    depth : float
        How deep it goes. [mm]
    """

    efficiency: Share
    depth: Annotated[float, Field(gt=0)]


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Band:
    """
    What banding was credited with, by one publication.

    Attributes
    ----------
    crops : str
        For which crops.
    low, high : float
        Share of the broadcast rate.
    condition : str
        Where that was found.
    source : Source
        Where it stands, and how far that was checked.
    """

    crops: Text
    low: Share
    high: Share
    condition: Text
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Broadcast:
    mixed: Known
    no_till: Known
    stays: Span
    reaches: Span


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _SaltRow:
    spacing: Number
    sandy: Number
    other: Number


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Salt:
    by: Text
    crops: tuple[Text, ...]
    rows: tuple[_SaltRow, ...]
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _NoContact:
    by: Text
    crops: tuple[Text, ...]
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _ByProvince:
    crops: tuple[Text, ...]
    manitoba: Number
    saskatchewan: Number


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _SeedP2O5:
    by: Text
    product: Text
    spacing: Number
    source: Cited
    rows: tuple[_ByProvince, ...]


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _SeedRow:
    wider: Cited
    texture: Cited
    between: Cited
    provinces: Cited
    salt: _Salt
    none: _NoContact
    p2o5: _SeedP2O5


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Mixing:
    formula: Cited
    source: Cited
    implements: dict[str, Implement]


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _File:
    broadcast: _Broadcast
    seed_row: _SeedRow
    mixing: _Mixing
    bands: tuple[Band, ...]


@cache
def figures() -> _File:
    """
    Every figure on placement, as its file has it.

    Returns
    -------
    dataclass
        By the names of ``placement.toml``.

    Raises
    ------
    GuidelineError
        If a figure or its source is missing.
    """
    text = (files("vrp.agronomy") / "data" / "placement.toml").read_text("utf-8")
    try:
        return TypeAdapter(_File).validate_python(tomllib.loads(text))
    except ValidationError as error:
        found = complaint(error, (_File,))
        raise GuidelineError(f"placement.toml: {found}") from error


def broadcast_depth(working_depth: float, *, passes: int = 1) -> float:
    """
    Depth to which tillage takes what was broadcast.

    Parameters
    ----------
    working_depth : float
        How deep the soil is worked.
    passes : int
        Years of it: the first takes phosphate to half of that depth, each further one
        through half of what is left.

    Returns
    -------
    float
        Depth, in the unit of `working_depth`; common practice.

    Examples
    --------
    >>> broadcast_depth(6.0), broadcast_depth(6.0, passes=2)
    (3.0, 4.5)
    """
    share = figures().broadcast.mixed.value
    return working_depth * (1.0 - (1.0 - share) ** passes)


def mixed(
    contents: Sequence[float],
    thickness: Sequence[float],
    *,
    efficiency: float,
    depth: float,
) -> tuple[float, ...]:
    """
    Return the contents of soil layers after a pass: (1 - e) c + e × their mean.

    Parameters
    ----------
    contents : sequence of float, length n
        Soil test of each layer, from the top.
    thickness : sequence of float, length n
        Thickness of each.
    efficiency : float
        Share that is spread evenly, from 0 to 1.
    depth : float
        How deep it is mixed, in the unit of `thickness`. A layer that ends below is
        mixed in its upper part alone.

    Returns
    -------
    tuple of float, length n
        Soil tests after it; what the layers hold together is the same.

    References
    ----------
    Theory of a public-domain watershed model of the USDA, tillage,
    https://swatplus.gitbook.io/io-docs/theoretical-documentation.

    Examples
    --------
    >>> mixed([60.0, 20.0], [50.0, 50.0], efficiency=0.3, depth=100.0)
    (54.0, 26.0)
    """
    tops = [sum(thickness[:index]) for index in range(len(thickness))]
    worked = [
        min(max(depth - top, 0.0), thick)
        for top, thick in zip(tops, thickness, strict=True)
    ]
    total = sum(worked)
    if total == 0.0:
        return tuple(contents)
    mean = sum(one * part for one, part in zip(contents, worked, strict=True)) / total
    return tuple(
        one + efficiency * (mean - one) * part / thick
        for one, part, thick in zip(contents, worked, thickness, strict=True)
    )


@dataclass(frozen=True, slots=True)
class SeedRowLimit:
    """
    How much the row bears beside the seed.

    Attributes
    ----------
    value : float
        The most that is allowed, itself included. [lb/ac]
    of : str
        Of what: ``N + K2O`` or ``P2O5``.
    condition : str
        For which rows, and what was our choice.
    by : str
        Who published it.
    source : Source
        Where the limit stands, and how far that was checked.
    product : str, optional
        Grade that it was published for; None where any product counts alike.
    """

    value: float
    of: Literal["N + K2O", "P2O5"]
    condition: str
    by: str
    source: Source
    product: str | None = None


def seed_row_limit(
    crop: str, *, row_spacing: float, texture: Texture | None
) -> SeedRowLimit | None:
    """
    Return the published limit to fertilizer in contact with the seed.

    Parameters
    ----------
    crop : str
        Id of the crop.
    row_spacing : float
        Between two rows. [in]
    texture : str, optional
        ``sandy``, ``medium`` or ``fine``; without it the limit for sand counts.

    Returns
    -------
    SeedRowLimit or None
        None where no limit is known for the crop.

    Examples
    --------
    >>> seed_row_limit("corn-grain", row_spacing=30.0, texture="fine").value
    8.0
    """
    table = figures().seed_row
    if crop in table.none.crops:
        none = table.none
        return SeedRowLimit(
            0.0, "P2O5", "nothing in contact with the seed", none.by, none.source
        )
    if crop in table.salt.crops:
        return _salt_limit(row_spacing, texture)
    for row in table.p2o5.rows:
        if crop in row.crops:
            lower = min(row.manitoba, row.saskatchewan)
            share = min(1.0, table.p2o5.spacing / row_spacing)
            condition = (
                f"lower of Manitoba's {row.manitoba:g} and Saskatchewan's "
                f"{row.saskatchewan:g} lb/ac in rows to {table.p2o5.spacing:g} in"
            )
            if share < 1.0:
                condition += f", the same in each row at {row_spacing:.3g} in"
            return SeedRowLimit(
                lower * share,
                "P2O5",
                condition,
                table.p2o5.by,
                table.p2o5.source,
                table.p2o5.product,
            )
    return None


def _salt_limit(row_spacing: float, texture: Texture | None) -> SeedRowLimit:
    table = figures().seed_row.salt
    sandy = texture in (None, "sandy")
    wide = table.rows[-1]
    # Rows written in centimetres come a hair off a whole number of inches.
    row = next(
        (one for one in table.rows if round(row_spacing, 1) <= one.spacing), wide
    )
    soil = "sand" if sandy else "medium and fine soil"
    condition = f"rows of {row.spacing:g} in, {soil}"
    if texture is None:
        condition += ", as field.texture is not given"
    limit = row.sandy if sandy else row.other
    share = min(1.0, wide.spacing / round(row_spacing, 1))
    if share < 1.0:
        condition += f", the same in each row at {row_spacing:.3g} in"
    return SeedRowLimit(limit * share, "N + K2O", condition, table.by, table.source)
