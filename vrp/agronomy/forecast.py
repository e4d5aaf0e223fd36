"""Soil test after the seasons of a plan, as a band."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from math import exp, inf, log, sqrt

from vrp.agronomy.forecast_figures import Drawdown, family, figures
from vrp.units import P2O5_PER_P, SoilTestUnit, soil_test_ppm_or_mg_l

DECIMALS = 2  # of the middle


@dataclass(frozen=True, slots=True)
class Fall:
    """
    How a test falls, for an amount that is either unfertilised seasons or P2O5.

    Attributes
    ----------
    of_season : bool
        Whether the amount counts seasons without P2O5, and not kg/ha of shortfall.
    halving : float
        Amount that halves the test, infinite where the levels say how it falls.
    levels, falls : tuple of float
        Fall for a unit of the amount at levels of soil test; below the first it goes to
        0 with the test, above the last it stays.
    """

    of_season: bool
    halving: float = inf
    levels: tuple[float, ...] = ()
    falls: tuple[float, ...] = ()

    def after(self, test: float, amount: float) -> float:
        """
        Return the test after a fall, never below 0.

        Parameters
        ----------
        test : float
            Where it starts.
        amount : float
            Seasons, or P2O5. [kg/ha]

        Returns
        -------
        float
            Where it ends: the solution of d test / d amount = −fall(test), so that a
            richer start never ends below a poorer one.
        """
        if not self.levels:
            return float(test * 2.0 ** (-amount / self.halving))
        nodes = [(0.0, 0.0), *zip(self.levels, self.falls, strict=True)]
        last, steady = nodes[-1]
        if test > last:
            if steady * amount <= test - last:
                return test - steady * amount
            amount -= (test - last) / steady
            test = last
        for (low, slow), (high, fast) in reversed(list(pairwise(nodes))):
            if test <= low:
                continue
            slope = (fast - slow) / (high - low)
            now = slow + slope * (test - low)
            if slope == 0.0:
                there = (test - low) / now if now else inf
                if amount <= there:
                    return test - now * amount
            else:
                there = log(now / slow) / slope if slow > 0.0 else inf
                if amount <= there:
                    return low + (now * exp(-slope * amount) - slow) / slope
            amount -= there
            test = low
        return test


@dataclass(frozen=True, slots=True)
class Model:
    """
    Figures that a forecast is made with.

    Attributes
    ----------
    holding : tuple of float
        Shares of removal that hold the test: the band's, then the middle's last.
    builds : tuple of float
        P2O5 beyond that for each unit of test, the middle's last; infinite where
        nothing raises it. [kg/ha]
    falls : tuple of Fall
        Falls below that, the middle's last.
    straight : float, optional
        P2O5 for each unit of test in a straight budget. [kg/ha]
    per_base : float
        Units of soil test in a ppm or mg/L: 2 where a laboratory reports lb/ac.
    """

    holding: tuple[float, ...]
    builds: tuple[float, ...]
    falls: tuple[Fall, ...]
    straight: float | None
    per_base: float


@dataclass(frozen=True, slots=True)
class Band:
    """
    Soil test after a season.

    Attributes
    ----------
    low, middle, high : float
        Ends and middle of the band. [the test's unit]
    straight : float or None
        What a straight budget would promise. [the test's unit]
    """

    low: float
    middle: float
    high: float
    straight: float | None


@dataclass(frozen=True, slots=True)
class Change:
    """
    A field's change of soil test between two tests.

    Attributes
    ----------
    before, after : float
        Mean soil tests of the field. [the test's unit]
    balance : float
        P2O5 spread less P2O5 taken in between. [kg/ha]
    """

    before: float
    after: float
    balance: float


@dataclass(frozen=True, slots=True)
class Fit:
    """
    What a field's own history says of one side.

    Attributes
    ----------
    side : str
        ``build-up`` or ``drawdown``.
    changes : int
        How many changes speak for it.
    slope : float
        Units of test for each kg/ha of P2O5, by least squares through nothing.
    low, high : float
        What holds it in 80 of 100, never below 0.
    """

    side: str
    changes: int
    slope: float
    low: float
    high: float

    @property
    def holds(self) -> bool:
        """
        Return whether the slope makes sense.

        Returns
        -------
        bool
            Whether a surplus raised the test, or a shortfall lowered it.
        """
        return self.slope > 0.0


def published(method: str, unit: SoilTestUnit) -> Model | None:
    """
    Return the published figures for a soil test.

    Parameters
    ----------
    method : str
        How the soil was tested.
    unit : str
        The unit of the test.

    Returns
    -------
    Model or None
        None where no figures were made for such a test.
    """
    found = family(method, unit)
    if found is None:
        return None
    holding, middle = figures().holding, found.middle
    falls = {key: _fall(one) for key, one in found.drawdown.items()}
    base, _ = soil_test_ppm_or_mg_l(1.0, unit)
    return Model(
        tuple(holding[key].value for key in ("low", "high", "middle")),
        (*(one.per_unit for one in found.build.values()), middle.build.per_unit),
        (*falls.values(), falls[middle.drawdown]),
        None if found.straight is None else found.straight.per_unit,
        1.0 / base,
    )


def forecast(
    model: Model,
    soil_test: float,
    seasons: Sequence[tuple[float, float]],
    *,
    low: float | None = None,
    high: float | None = None,
) -> tuple[Band, ...]:
    r"""
    Return the soil test after each season.

    Parameters
    ----------
    model : Model
        The figures.
    soil_test : float
        Where it starts. [the test's unit]
    seasons : sequence of tuple of float
        P2O5 applied and removed in each. [kg/ha]
    low, high : float, optional
        Ends of what the start may be; the start itself where they are absent.

    Returns
    -------
    tuple of Band
        One for each season.

    Notes
    -----
    With P2O5 applied :math:`A`, removed :math:`R` and a share :math:`f` of removal that
    holds the test, a surplus :math:`A - fR \ge 0` raises the test by itself over a
    build-up figure; a shortfall lets it fall by a drawdown figure, in proportion to
    :math:`1 - A / fR` of an unfertilised season or to the shortfall itself. Every
    combination of the figures goes its own way from season to season; the band holds
    them all, from the low start and from the high one. The middle has its own stated
    figures with :math:`f = 1`. It is no interval of a probability.

    References
    ----------
    Each figure's publication stands with it in ``data/forecast.toml``.
    """
    base = model.per_base
    ends = [
        (soil_test if low is None else min(low, soil_test)) / base,
        (soil_test if high is None else max(high, soil_test)) / base,
    ]
    members = list(product(model.holding, model.builds, model.falls))
    lows, highs = [ends[0]] * len(members), [ends[1]] * len(members)
    # The middle's figures stand last in each, so they are the last combination.
    middle = straight = soil_test / base
    bands = []
    for applied, removed in seasons:
        each = [_season(applied, removed, *member) for member in members]
        lows = [step(test) for step, test in zip(each, lows, strict=True)]
        highs = [step(test) for step, test in zip(each, highs, strict=True)]
        # What is printed counts on: the next season's line starts from it.
        middle = round(each[-1](middle) * base, DECIMALS) / base
        if model.straight is not None:
            straight = max(straight + (applied - removed) / model.straight, 0.0)
        bands.append(
            Band(
                min(*lows, middle) * base,
                round(middle * base, DECIMALS),
                max(*highs, middle) * base,
                None if model.straight is None else straight * base,
            )
        )
    return tuple(bands)


def optimism(model: Model) -> float | None:
    """
    Return how many times the middle's build-up a straight budget promises.

    Parameters
    ----------
    model : Model
        The figures.

    Returns
    -------
    float or None
        None where there is no straight budget for the test.
    """
    return None if model.straight is None else model.builds[-1] / model.straight


def refit(model: Model, changes: Sequence[Change]) -> tuple[Model, tuple[Fit, ...]]:
    """
    Put a field's own figures in the place of the published ones.

    Parameters
    ----------
    model : Model
        The published figures.
    changes : sequence of Change
        The field's own.

    Returns
    -------
    Model
        With the field's own figure on each side where its slope makes sense; where it
        does not, with a member that does not move the test, so that the band is wider.
    tuple of Fit
        What the history says, a side each; none where the balances are too small.
    """
    base = model.per_base
    per_unit = [
        replace(one, before=one.before / base, after=one.after / base)
        for one in changes
    ]
    fits = []
    least = figures().field_mean.least_balance.value
    for side, sign in (("build-up", 1.0), ("drawdown", -1.0)):
        here = [one for one in per_unit if sign * one.balance >= least]
        if not here:
            continue
        fit = _fit(side, here)
        fits.append(fit)
        if side == "build-up":
            slopes = (fit.low, fit.high, fit.slope) if fit.holds else (0.0,)
            own = tuple(1.0 / slope if slope > 0.0 else inf for slope in slopes)
            builds = own if fit.holds else (*own, *model.builds)
            model = replace(model, builds=builds)
        else:
            level = sum(one.before + one.after for one in here) / (2.0 * len(here))
            slopes = (fit.low, fit.high, fit.slope) if fit.holds else (0.0,)
            falls = tuple(Fall(False, inf, (level,), (slope,)) for slope in slopes)
            model = replace(model, falls=falls if fit.holds else (*falls, *model.falls))
    if fits and all(fit.holds for fit in fits):
        # Balances count the whole removal, and so do figures that are fitted to them.
        model = replace(model, holding=model.holding[-1:])
    return model, tuple(fits)


def _fit(side: str, changes: Sequence[Change]) -> Fit:
    """Return the least-squares slope, and what the tests' own error makes of it."""
    mean = figures().field_mean
    error = mean.error.value / 100.0
    squares = sum(one.balance**2 for one in changes)
    # Where the balance is negative so is a fall: the slope is above 0 on both sides.
    slope = sum(one.balance * (one.after - one.before) for one in changes) / squares
    variances = (
        one.balance**2 * error**2 * (one.before**2 + one.after**2) for one in changes
    )
    spread = mean.interval.value * sqrt(sum(variances)) / squares
    return Fit(side, len(changes), slope, max(slope - spread, 0.0), slope + spread)


def _season(
    applied: float, removed: float, share: float, build: float, fall: Fall
) -> Callable[[float], float]:
    """Return what a season makes of a test by one combination of figures."""
    held = share * removed
    surplus = applied - held
    if surplus >= 0.0:
        return lambda test: test + surplus / build
    amount = -surplus / held if fall.of_season else -surplus
    return lambda test: fall.after(test, amount)


def _fall(one: Drawdown) -> Fall:
    if one.halving is not None:
        return Fall(True, one.halving)
    if one.per == "season":
        return Fall(True, inf, one.levels, one.falls)
    per_p2o5 = tuple(each / P2O5_PER_P for each in one.falls)
    return Fall(False, inf, one.levels, per_p2o5)
