"""What is doubtful about phosphate where the soil is rich or water is near."""

from vrp.agronomy.checks import finding
from vrp.agronomy.drawdown import LONGEST
from vrp.agronomy.indices import IndexClass, ManureScreen
from vrp.agronomy.water_facts import WaterFact, ZoneWater
from vrp.evidence import Finding

# From this class of an index on the finding is a warning: high, and very high.
_HIGH = 3


def over_no_need(
    soil_test: float, limit: float | None, *, unit: str, applied: float, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding if P2O5 is put where the guideline has no need of any.

    Parameters
    ----------
    soil_test : float
        Soil test of the zone. [unit]
    limit : float, optional
        Above it the guideline asks for nothing. [unit]
    unit : str
        Unit of the soil test.
    applied : float
        P2O5 that the rate brings.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one: none at the limit itself.
    """
    if limit is None or soil_test <= limit or applied == 0.0:
        return ()
    message = (
        f"zone {zone}: gets P2O5 though its soil test of {soil_test:g} {unit} is above "
        f"the guideline's no-need limit of {limit:g} {unit}"
    )
    return (
        finding(
            "rate-over-no-need",
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=soil_test,
            unit=unit,
            bound=limit,
        ),
    )


def very_high(
    found: ZoneWater, *, unit: str, limit: float | None, applied: float
) -> tuple[Finding, ...]:
    """
    Return a finding if a soil tests far above what any crop has a use for.

    Parameters
    ----------
    found : ZoneWater
        The facts of the zone.
    unit : str
        Unit of the soil test.
    limit : float, optional
        The guideline's no-need limit. [unit]
    applied : float
        P2O5 that the rate brings: a warning above 0.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    fact = _fact(found, "very-high")
    if fact.stands != "against" or fact.value is None:
        return ()
    message = (
        f"zone {found.zone}: soil test {fact.value:g} {unit}, above {fact.limit:g} "
        f"{unit} ({fact.source.status}){_drawn_down(found, unit=unit, limit=limit)}"
    )
    return (
        finding(
            "soil-test-very-high",
            place=f"zone {found.zone}",
            message=message,
            zone=found.zone,
            value=fact.value,
            unit=unit,
            bound=fact.limit,
            severity="warn" if applied > 0.0 else None,
        ),
    )


def on_top_near_water(found: ZoneWater) -> tuple[Finding, ...]:
    """
    Return a finding if phosphate lies on the surface where storms reach water.

    Parameters
    ----------
    found : ZoneWater
        The facts of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    reach, top = _fact(found, "storm-reach"), _fact(found, "on-top")
    if (reach.stands, top.stands) != ("against", "against"):
        return ()
    message = (
        f"zone {found.zone}: {top.said}, {reach.said}: "
        f"{'; '.join(one.text for one in found.advice)}"
    )
    return (
        finding(
            "on-top-near-water",
            place=f"zone {found.zone}",
            message=message,
            zone=found.zone,
            value=reach.value,
            unit=reach.unit,
            bound=reach.limit,
        ),
    )


def slope_as_read(file: str, *, cell: str, heights: str) -> tuple[Finding, ...]:
    """
    Return a finding that tells how slope was read.

    Parameters
    ----------
    file : str
        The raster of heights.
    cell : str
        Side of a cell with its unit.
    heights : str
        Unit of the heights, and who says so.

    Returns
    -------
    tuple of Finding
        One.
    """
    message = f"{file}: slope over cells of {cell}, heights in {heights}"
    return (finding("slope-as-read", place=file, message=message),)


def slope_missing(file: str, *, zone: int) -> tuple[Finding, ...]:
    """
    Return a finding for a zone that the heights do not cover.

    Parameters
    ----------
    file : str
        The raster of heights.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        One.
    """
    message = f"zone {zone}: {file} covers too little of it for a slope"
    place = f"zone {zone}"
    return (finding("slope-not-covered", place=place, message=message, zone=zone),)


def index_as_given(
    value: float, found: IndexClass, *, zone: int | None = None
) -> tuple[Finding, ...]:
    """
    Return a finding that tells what the value of an index means.

    Parameters
    ----------
    value : float
        The index that the plan gives.
    found : IndexClass
        Its class.
    zone : int, optional
        Number of the zone; None where it is for the whole field.

    Returns
    -------
    tuple of Finding
        One; a warning from the class high on.
    """
    place = "field" if zone is None else f"zone {zone}"
    message = (
        f"{place}: {found.title}: {value:g} is {found.word} ({found.source.status}); "
        f"manure: {found.manure}"
    )
    return (
        finding(
            "p-index",
            place=place,
            message=message,
            zone=zone,
            value=value,
            severity="warn" if found.place >= _HIGH else None,
        ),
    )


def index_missing(file: str, *, zone: int) -> tuple[Finding, ...]:
    """
    Return a finding for a zone that no polygon gives an index.

    Parameters
    ----------
    file : str
        The file of polygons.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        One.
    """
    place = f"zone {zone}"
    message = f"{place}: {file} gives no index there"
    return (finding("p-index", place=place, message=message, zone=zone),)


def manure_as_screened(found: ManureScreen, *, zone: int) -> tuple[Finding, ...]:
    """
    Return a finding that tells what a table allows of manure.

    Parameters
    ----------
    found : ManureScreen
        What it allows.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        One; a warning where it allows none or could not be read.
    """
    grave = found.answer in (None, "none")
    message = f"zone {zone}: {found.said} ({found.source.status})"
    return (
        finding(
            "manure-screen",
            place=f"zone {zone}",
            message=message,
            zone=zone,
            severity="warn" if grave else None,
        ),
    )


def _fact(found: ZoneWater, name: str) -> WaterFact:
    """Return a fact by name; a shallow band stands where what lies on top would."""
    names = (name, "shallow") if name == "on-top" else (name,)
    return next(one for one in found.facts if one.name in names)


def _drawn_down(found: ZoneWater, *, unit: str, limit: float | None) -> str:
    """Return how long the soil takes to come down, where a forecast tells."""
    if limit is None or found.seasons is None:
        return ""
    middle = _count(found.seasons.middle)
    low, high = _count(found.seasons.low), _count(found.seasons.high)
    return (
        f"; without P2O5 it would be down at {limit:g} {unit} after {middle} seasons "
        f"({low} to {high})"
    )


def _count(seasons: int | None) -> str:
    return f"more than {LONGEST}" if seasons is None else f"{seasons}"
