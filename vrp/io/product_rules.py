"""Keys of products and placement that need or exclude each other."""

from collections.abc import Iterator

from vrp.agronomy.economics import price_of_p2o5, priced_by
from vrp.agronomy.products import Grade, density_unit, liquid_density
from vrp.errors import InputError
from vrp.plan import Application, Plan, Product
from vrp.units import System

# Placements that put phosphate in a row or a band.
BANDED = ("band", "deep-band", "starter-2x2", "seed-row")


def contradiction(plan: Plan) -> str | None:
    """Return the first complaint about products and placement, if there is one."""
    named = [("product", plan.product)]
    named += [
        (f"alternative[{number}]", one)
        for number, one in enumerate(plan.alternative, start=1)
    ]
    for key, product in named:
        try:
            _check(product, key, system=plan.units)
        except InputError as error:
            return str(error)
    placed = plan.application
    return None if placed is None else next(_of_placement(placed), None)


def _check(product: Product, key: str, *, system: System) -> None:
    try:
        grade = Grade.parse(product.grade, sulfur=product.s)
    except InputError as error:
        raise InputError(f"{key}: {error}") from error
    mass = priced_by(product.form, system=system)[0]
    if product.form == "liquid":
        try:
            mass *= liquid_density(grade, product.density, system=system)
        except InputError as error:
            raise InputError(f"{key}.{error}") from error
    elif product.density is not None:
        unit = density_unit(system)
        message = f"{key}.density is for liquids, in {unit}"
        raise InputError(f'{message}: write {key}.form = "liquid", or leave it out')
    if product.nitrogen_price is not None and product.price is None:
        raise InputError(f"{key}.nitrogen_price needs {key}.price")
    if product.nitrogen_price is not None and grade.nitrogen == 0.0:
        raise InputError(f"{key}.nitrogen_price is given, but {grade} carries no N")
    if product.price is not None:
        try:
            price_of_p2o5(
                product.price,
                grade,
                mass=mass,
                nitrogen_price=product.nitrogen_price,
            )
        except InputError as error:
            raise InputError(f"{key}: {error}") from error


def _of_placement(placed: Application) -> Iterator[str]:
    method = f'application.method = "{placed.method}"'
    if placed.band_factor < 1.0 and placed.method not in BANDED:
        yield (
            f"application.band_factor = {placed.band_factor:g} is for bands: write "
            f"application.method as one of {', '.join(BANDED)}"
        )
    if placed.method == "seed-row" and placed.row_spacing is None:
        yield f"{method} needs application.row_spacing"
    if placed.method == "broadcast" and placed.depth is not None:
        yield f'application.depth is given, but {method}: write "incorporated"'
    if placed.incorporated_within is not None and placed.method != "incorporated":
        yield 'application.incorporated_within is for method = "incorporated"'
    if placed.method == "incorporated" and placed.tillage == "no-till":
        yield f'{method} contradicts application.tillage = "no-till"'
    if placed.tillage_depth is not None and placed.tillage != "tilled":
        yield 'application.tillage_depth needs application.tillage = "tilled"'
