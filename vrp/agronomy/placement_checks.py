"""What is doubtful about where phosphate is put, and what may serve better."""

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.placement import SeedRowLimit, Texture, broadcast_depth, figures
from vrp.evidence import Finding
from vrp.units import INCH, KG_HA, SOIL_LB_AC_PER_PPM, RateUnit, System


def seed_row(
    limit: SeedRowLimit | None,
    carried: dict[str, float],
    *,
    unit: RateUnit,
    zone: int,
    crop: str,
) -> tuple[Finding, ...]:
    """
    Return a finding if the row may not bear what is put beside the seed.

    Parameters
    ----------
    limit : SeedRowLimit, optional
        What is published for the crop.
    carried : dict of float
        What the zone's rate carries, by ``N + K2O`` and ``P2O5``. [unit]
    unit : str
        ``lb/ac`` or ``kg/ha``.
    zone : int
        Number of the zone.
    crop : str
        Id of the crop.

    Returns
    -------
    tuple of Finding
        At most one: none at the limit itself.
    """
    place = f"zone {zone}"
    if limit is None:
        if not any(carried.values()):
            return ()
        message = (
            f"{place}: no limit is known for fertilizer beside the seed of {crop}: ask "
            "the local guide"
        )
        return (finding("seed-row-unknown", place=place, message=message, zone=zone),)
    value, bound = carried[limit.of], limit.value * KG_HA["lb/ac"] / KG_HA[unit]
    if round(value, 9) <= round(bound, 9):
        return ()
    message = (
        f"{place}: {value:.2f} {unit} of {limit.of} beside the seed of {crop} is more "
        f"than {bound:.3g} {unit} ({limit.condition}; {limit.by}, "
        f"{limit.source.status})"
    )
    return (
        finding(
            "seed-row-limit",
            place=place,
            message=message,
            zone=zone,
            value=round(value, 2),
            unit=unit,
            bound=round(bound, 2),
        ),
    )


def seed_row_product(
    limit: SeedRowLimit | None, grade: str, *, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding if a limit beside the seed was published for another product.

    Parameters
    ----------
    limit : SeedRowLimit, optional
        What is published for the crop.
    grade : str
        The product's grade.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if limit is None or limit.product in (None, grade):
        return ()
    message = (
        f"zone {zone}: the limit beside the seed was published for {limit.product}; "
        f"none is known for {grade}, which may be saltier or free more ammonia"
    )
    return (
        finding("seed-row-unknown", place=f"zone {zone}", message=message, zone=zone),
    )


def band_below_removal(
    applied: float, removal: float | None, *, factor: float, unit: RateUnit, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding if a band's reduced rate puts on less than the crop takes away.

    Parameters
    ----------
    applied : float
        P2O5 that the rate and credits bring. [unit]
    removal : float, optional
        P2O5 that the season's harvest removes. [unit]
    factor : float
        Share of the broadcast need that the band gets.
    unit : str
        ``lb/ac`` or ``kg/ha``.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if factor >= 1.0 or removal is None or round(applied, 1) >= round(removal, 1):
        return ()
    message = (
        f"zone {zone}: with a band at {factor:g} of the need {applied:.1f} {unit} of "
        f"P2O5 come on, less than the {removal:.1f} {unit} that the crop removes: the "
        "soil is drawn down"
    )
    return (
        finding(
            "band-factor-draws-down",
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=round(applied, 1),
            unit=unit,
            bound=round(removal, 1),
        ),
    )


def band_not_low(
    soil_test: float, critical: float, *, factor: float, unit: str, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding if a band's rate is reduced where the soil is not low.

    Parameters
    ----------
    soil_test : float
        Soil test of the zone. [unit]
    critical : float
        Critical level of the guideline. [unit]
    factor : float
        Share of the broadcast need that the band gets.
    unit : str
        Unit of the soil test.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if factor >= 1.0 or soil_test < critical:
        return ()
    least = min(one.low for one in figures().bands)
    message = (
        f"zone {zone}: the need is taken × {factor:g} for a band, but the test of "
        f"{soil_test:g} {unit} is not below the critical {critical:g}; reductions, to "
        f"{least:g} at most, were published for low tests"
    )
    return (
        finding(
            "band-factor-not-low",
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=soil_test,
            unit=unit,
            bound=critical,
        ),
    )


def lies_on_top(
    method: str | None, tillage: str | None, *, system: System
) -> tuple[Finding, ...]:
    """
    Return a finding where phosphate is broadcast and nothing takes it down.

    Parameters
    ----------
    method : str, optional
        How it is placed.
    tillage : str, optional
        ``no-till`` or ``tilled``.
    system : str
        ``us`` or ``metric``, for the message.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if method != "broadcast" or tillage != "no-till":
        return ()
    known = figures().broadcast
    stays, reaches, lies = (
        _depth(one, system)
        for one in (known.stays.high, known.reaches.high, known.no_till.value)
    )
    message = (
        f"field: broadcast without tillage phosphate stays in the top {stays}, by "
        f"another publication {reaches}; after a few years most lies in the top {lies}"
    )
    return (finding("broadcast-on-top", place="field", message=message),)


def worked_in(
    working_depth: float | None, *, tillage: str | None, unit: str
) -> tuple[Finding, ...]:
    """
    Return a finding that tells how deep tillage takes what is broadcast.

    Parameters
    ----------
    working_depth : float, optional
        How deep the soil is worked. [unit]
    tillage : str, optional
        ``no-till`` or ``tilled``.
    unit : str
        ``in`` or ``cm``.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if working_depth is None or tillage != "tilled":
        return ()
    once = broadcast_depth(working_depth)
    twice = broadcast_depth(working_depth, passes=2)
    message = (
        f"field: tillage of {working_depth:g} {unit} takes broadcast phosphate to "
        f"about {once:.3g} {unit}, and to {twice:.3g} {unit} in the next year"
    )
    return (finding("tillage-takes-down", place="field", message=message),)


def stratified_no_till(
    ratio: float | None, *, tillage: str | None
) -> tuple[Finding, ...]:
    """
    Return advice where soil that is not tilled holds its phosphorus on top.

    Parameters
    ----------
    ratio : float, optional
        Soil test of the top layer over that of the core, median of the field.
    tillage : str, optional
        ``no-till`` or ``tilled``.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    limit = checks()["no-till-stratified"].at("us").value
    if tillage != "no-till" or ratio is None or ratio <= limit:
        return ()
    message = (
        f"field: without tillage the top layer tests {ratio:.2f} times the whole "
        f"core, more than {limit:g} times: bands, or now and then deep placement, put "
        "phosphorus where roots find it and runoff does not; weigh them against erosion"
    )
    return (
        finding(
            "no-till-stratified",
            place="field",
            message=message,
            value=round(ratio, 2),
            unit="times the core",
            bound=limit,
        ),
    )


def sandy_high(
    soil_test: float, texture: Texture | None, *, unit: str, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding where a sandy soil is so rich that phosphorus may leach.

    Parameters
    ----------
    soil_test : float
        Soil test of the zone. [unit]
    texture : str, optional
        ``sandy``, ``medium`` or ``fine``.
    unit : str
        Unit of the soil test, ``ppm``, ``mg/L`` or ``lb/ac``.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    limit = checks()["sandy-leaches"].at("us").value
    if unit == "lb/ac":
        limit *= SOIL_LB_AC_PER_PPM
    if texture != "sandy" or soil_test <= limit:
        return ()
    message = (
        f"zone {zone}: a sandy soil at {soil_test:g} {unit}, above {limit:g} {unit}, "
        "may lose phosphorus downwards: draw it down"
    )
    return (
        finding(
            "sandy-leaches",
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=soil_test,
            unit=unit,
            bound=limit,
        ),
    )


def _depth(inches: float, system: System) -> str:
    if system == "us":
        return f"{inches:g} in"
    return f"{inches * INCH * 100.0:.2g} cm"
