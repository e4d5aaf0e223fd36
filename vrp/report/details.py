"""What the terminal tells of a built field beside its summary, zone after zone."""

from typing import IO

from vrp.evidence import whole
from vrp.legend import area_unit, mass_unit, rate_unit
from vrp.prescription import Prescription
from vrp.report.terminal import findings, say, table
from vrp.report.water_view import water_of_zones
from vrp.report.zoning_view import worth_of_zones

# Lines of what the crops leave: our choice, a screen.
MOST_SEASONS = 24


def details(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what zones are worth, the crops after, water, costs and all findings."""
    _worth_of_zones(prescription, file=file)
    _after_the_crops(prescription, file=file)
    _water(prescription, file=file)
    _products(prescription, file=file)
    findings(prescription.findings, file=file)


def _worth_of_zones(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what zones are worth by their number."""
    found = worth_of_zones(prescription)
    if found is None:
        return
    table(found.title, found.headings, found.rows, file=file, numbers=True)
    if found.note:
        say(found.note, file=file)
        file.write("\n")


def _after_the_crops(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what a plan of several seasons leaves in each zone."""
    seasons = prescription.seasons
    if len(prescription.plan.season) < 2 or all(one.balance is None for one in seasons):
        return
    rows, last = [], 0
    for one in seasons[:MOST_SEASONS]:
        ends = (one.stp_low, one.stp_mid, one.stp_high)
        band = (f"{end:.1f}" for end in ends if end is not None)
        straight = "" if one.stp_straight is None else f"{one.stp_straight:.1f}"
        rows.append(
            (
                f"{'' if one.zone == last else one.zone:>4} {one.crop}",
                f"{one.applied:.0f}",
                *(
                    "" if value is None else f"{round(value) + 0:d}"
                    for value in (one.removal, one.balance)
                ),
                " – ".join(band),
                straight,
            )
        )
        last = one.zone
    unit, test = rate_unit(prescription), prescription.guideline.soil_test_unit
    headings = [
        "zone crop",
        f"applied\n{unit}",
        f"removed\n{unit}",
        f"balance\n{unit}",
        f"soil test\n{test}",
        f"straight\n{test}",
    ]
    # A column without a figure is left out.
    kept = [at for at in range(len(headings)) if any(row[at] for row in rows)]
    table(
        "After the crops: P2O5, the balance summed; low – middle – high",
        [headings[at] for at in kept],
        [[row[at] for at in kept] for row in rows],
        file=file,
        numbers=True,
    )
    if len(seasons) > MOST_SEASONS:
        left = len(seasons) - MOST_SEASONS
        say(f"{left} more seasons of zones stand in the record.", file=file)
        file.write("\n")


def _water(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what matters for water in each zone, where water or heights were given."""
    found = water_of_zones(prescription.water_zones)
    if found is None:
        return
    table(found.title, found.headings, found.rows, file=file)
    for note in found.notes:
        say(note, file=file)
    file.write("\n")


def _products(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what other products cost, in the unit of the prices given."""
    found = prescription.products
    area, mass = area_unit(prescription), mass_unit(prescription)
    if all(one.cost is None for one in found) or len(found) == 1:
        return
    headings = (
        "product",
        "rate",
        "in all",
        f"N\n{mass}",
        "cost",
        f"cost\na {area}",
        f"cost a {mass}\nof P2O5",
    )
    rows = []
    for one in found:
        rates = dict.fromkeys((f"{one.lowest_rate:g}", f"{one.highest_rate:g}"))
        rows.append(
            (
                one.grade if one.s is None else f"{one.grade}, {one.s:g} % S",
                f"{'–'.join(rates)} {one.unit}",
                f"{whole(one.total)} {one.total_unit}",
                whole(one.nitrogen),
                "" if one.cost is None else whole(one.cost),
                "" if one.cost_area is None else f"{one.cost_area:,.2f}",
                "" if one.price_p2o5 is None else f"{one.price_p2o5:,.2f}",
            )
        )
    table("What products cost", headings, rows, file=file, numbers=True)
