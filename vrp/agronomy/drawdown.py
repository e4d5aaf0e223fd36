"""How long a rich soil takes to come down when nothing is spread."""

from dataclasses import dataclass

from vrp.agronomy.forecast import DECIMALS, Model, forecast

# Beyond this a forecast says no more than "long". Our choice.
LONGEST = 60


@dataclass(frozen=True, slots=True)
class Drawdown:
    """
    Unfertilised seasons until a soil test is down at a limit.

    Attributes
    ----------
    low, middle, high : int or None
        By the fastest figures, the middle's and the slowest; None where it takes more
        than `LONGEST`.
    """

    low: int | None
    middle: int | None
    high: int | None


def seasons_until(
    model: Model, soil_test: float, limit: float, *, removed: float
) -> Drawdown:
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
    Drawdown
        All 0 where it is there already.
    """
    bands = forecast(model, soil_test, [(0.0, removed)] * LONGEST)

    def _first(ends: list[float]) -> int | None:
        if soil_test <= limit:
            return 0
        there = (at for at, end in enumerate(ends, 1) if round(end, DECIMALS) <= limit)
        return next(there, None)

    return Drawdown(
        _first([one.low for one in bands]),
        _first([one.middle for one in bands]),
        _first([one.high for one in bands]),
    )
