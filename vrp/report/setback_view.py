"""What distances from water keep out of a field, in sentences."""

from vrp.evidence import shown, whole
from vrp.legend import area_unit, mass_unit, product_unit
from vrp.prescription import Prescription, Setback, WaterFacts


def kept_out(prescription: Prescription) -> list[str]:
    """Return what is kept from water and what that takes, none without features."""
    water = prescription.water
    if water is None:
        return []
    area, length = area_unit(prescription), _length(prescription)
    cut = [one for one in water.setbacks if one.area > 0.0]
    said = [_kept(one, length) for one in water.setbacks if one.distance is not None]
    sentences = []
    if said:
        sentences.append(f"Kept from water: {', '.join(said)}.")
    if not cut and water.strip_area == 0.0:
        return [*sentences, "No ground of the field lies within these distances."]
    sentences.append(
        f"Nothing is spread on {water.kept_area:.2f} {area}, where the guideline asks "
        f"for {whole(water.kept_p2o5)} {mass_unit(prescription)} of P2O5 "
        f"({whole(water.kept_product)} {product_unit(prescription)} of product)."
    )
    sentences += _thrown(water, prescription)
    return sentences


def _thrown(water: WaterFacts, prescription: Prescription) -> list[str]:
    area, length = area_unit(prescription), _length(prescription)
    if water.throw is None:
        return ["How far the spreader throws past its side is not known."]
    if water.strip_area == 0.0:
        return []
    return [
        f"Another {water.strip_area:.2f} {area} beside it, {water.throw:g} {length} "
        "wide, are not driven and have rate 0; the pass along them throws about "
        f"{whole(water.strip_product)} {product_unit(prescription)} there: to be "
        "loaded, but in no zone's total."
    ]


def _kept(one: Setback, length: str) -> str:
    return f"{shown(one.distance or 0.0, most=1)} {length} from {one.kind}"


def _length(prescription: Prescription) -> str:
    return "ft" if prescription.plan.units == "us" else "m"
