"""What is known of a zone and of the application, for what matters for water."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """
    What the plan says of the application, alike in every zone.

    Attributes
    ----------
    method : str, optional
        Where the product is put.
    depth : float, optional
        How deep. [m]
    tillage : str, optional
        ``no-till`` or ``tilled``.
    residue : str, optional
        ``left`` or ``removed``.
    month : int, optional
        Of the application, from 1.
    southern : bool
        Whether the field lies south of the equator.
    stratified : bool
        Whether the top of the soil is richer than what a limit allows.
    """

    method: str | None = None
    depth: float | None = None
    tillage: str | None = None
    residue: str | None = None
    month: int | None = None
    southern: bool = False
    stratified: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneCase:
    """
    What is known of a zone.

    Attributes
    ----------
    zone : int
        Its number.
    soil_test : float
        In `unit`.
    unit : str
        ``ppm``, ``mg/L`` or ``lb/ac``.
    method : str
        The method that the soil test counts as.
    no_need_above : float, optional
        The guideline's limit. [unit]
    p2o5 : float
        What the rate brings. [kg/ha]
    distance : float, optional
        From the zone's edge to the nearest water. [m]
    water : str
        What that water is.
    slope : float, optional
        Mean of the zone. [percent]
    """

    zone: int
    soil_test: float
    unit: str
    method: str
    no_need_above: float | None
    p2o5: float
    distance: float | None = None
    water: str = "water"
    slope: float | None = None
