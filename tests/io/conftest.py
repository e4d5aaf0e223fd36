"""Prescriptions drawn by hand, for writers that need no soil test."""

from dataclasses import fields

import pytest
import shapely
from pyproj import Geod

from vrp.prescription import Amounts, Prescription, Totals, Zone

ACRE, HECTARE = 4046.8564224, 10_000.0  # [m²]


def blank(kind, **known):
    """Return a thing of which only some is known."""
    return kind(**{one.name: None for one in fields(kind)} | known)


@pytest.fixture(scope="session")
def prescribed(plan):
    """Return a function from shapes, rates and tables of a plan to a prescription."""

    def made(shapes, rates, **tables):
        asked = plan(**tables)
        unit = ACRE if asked.units == "us" else HECTARE
        zones = []
        for number, (shape, rate) in enumerate(zip(shapes, rates, strict=True), 1):
            turned = shapely.orient_polygons(shape)
            area = Geod(ellps="WGS84").geometry_area_perimeter(turned)[0] / unit
            known = {"number": number, "geometry": shape, "rate": rate}
            known |= {"area": round(area, 5), "total": round(rate * area, 2)}
            zones.append(blank(Zone, **known))
        product = sum(zone.total for zone in zones)
        totals = blank(Totals, zones=blank(Amounts, product=product))
        return blank(
            Prescription, plan=asked, zones=tuple(zones), totals=totals, findings=()
        )

    return made
