"""What to mind with a product, and a density that is not its grade's."""

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.products import Grade, density_unit, known, shipped_density
from vrp.evidence import Finding
from vrp.units import System

# Placements that bring fertilizer near the seed.
_NEAR_SEED = ("starter-2x2", "seed-row")


def cautions(grade: Grade, method: str | None, *, place: str) -> tuple[Finding, ...]:
    """
    Return what a person should be told of a product.

    Parameters
    ----------
    grade : Grade
        The product's grade.
    method : str, optional
        How it is placed; where that is not said, it may be near the seed.
    place : str
        Key of the product.

    Returns
    -------
    tuple of Finding
        One a caution; none on seed where the product is not placed near it.
    """
    plain = known(grade)
    if plain is None:
        return ()
    told = []
    for caution in plain.cautions:
        if not caution.near_seed or method in (None, *_NEAR_SEED):
            message = (
                f"{place}: {grade} ({plain.chemistry}) {caution.text} "
                f"({caution.source.status}: {caution.source.where})"
            )
            told.append(finding("product-caution", place=place, message=message))
    return tuple(told)


def density(
    grade: Grade, given: float | None, *, system: System, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if a liquid's density is far from that known for its grade.

    Parameters
    ----------
    grade : Grade
        The product's grade.
    given : float, optional
        Its density. [lb/gal or kg/L]
    system : str
        ``us`` or ``metric``, for the unit.
    place : str
        Key of the product.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    shipped = shipped_density(grade, system=system)
    if given is None or shipped is None:
        return ()
    (value, source), unit = shipped, density_unit(system)
    limit = checks()["density-unusual"].at(system).value
    if abs(given - value) <= limit / 100.0 * value:
        return ()
    message = (
        f"{place}: density of {given:g} {unit} is more than {limit:g} % from the "
        f"{value:g} {unit} known for {grade} ({source.status}: {source.where})"
    )
    return (
        finding(
            "density-unusual",
            place=place,
            message=message,
            value=given,
            unit=unit,
            bound=value,
        ),
    )


def form(grade: Grade, given: str, *, place: str) -> tuple[Finding, ...]:
    """
    Return a finding if a grade is known in another form than the plan's.

    Parameters
    ----------
    grade : Grade
        The product's grade.
    given : str
        ``granular`` or ``liquid``, as the plan has it.
    place : str
        Key of the product.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    plain = known(grade)
    if plain is None or plain.form == given:
        return ()
    by = "volume" if given == "liquid" else "weight"
    message = (
        f"{place}: {grade} is known as {plain.form} ({plain.chemistry}), but its form "
        f"here is {given}, so that rates are by {by}"
    )
    return (finding("product-form", place=place, message=message),)
