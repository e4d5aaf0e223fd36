"""How long a rich soil takes to come down when nothing is spread."""

from vrp.agronomy.forecast import DECIMALS, Model, forecast

# Beyond this a forecast says no more than "long". Our choice.
LONGEST = 60


def seasons_until(
    model: Model, soil_test: float, limit: float, *, removed: float
) -> tuple[int | None, int | None, int | None]:
    """
    Return unfertilised seasons until a soil test is down at a limit, as a band.

    Parameters
    ----------
    model : Model
        The forecast's figures.
    soil_test : float
        Where it starts. [the test's unit]
    limit : float
        Where it is to come. [the test's unit]
    removed : float
        P2O5 that each season's harvest takes. [kg/ha]

    Returns
    -------
    tuple of int or None
        By the fastest figures, by the middle's and by the slowest; None where it takes
        more than `LONGEST`.
    """
    bands = forecast(model, soil_test, [(0.0, removed)] * LONGEST)

    def _first(ends: list[float]) -> int | None:
        if soil_test <= limit:
            return 0
        there = (at for at, end in enumerate(ends, 1) if round(end, DECIMALS) <= limit)
        return next(there, None)

    return (
        _first([one.low for one in bands]),
        _first([one.middle for one in bands]),
        _first([one.high for one in bands]),
    )
