"""Keys of seasons and of the balance that need or exclude each other."""

from collections.abc import Iterator
from itertools import pairwise

from vrp.plan import BalancePlan, Plan


def season_contradiction(plan: Plan) -> str | None:
    """Return the first complaint about seasons and balance, if there is one."""
    found = (*_of_seasons(plan), *_of_history(plan.balance))
    return found[0] if found else None


def _of_seasons(plan: Plan) -> Iterator[str]:
    if plan.season[0].p2o5 is not None:
        yield (
            "season[1].p2o5: the map itself is the first season's application; p2o5 is "
            "for what is spread in a later season"
        )
    for number, one in enumerate(plan.season, start=1):
        if plan.need.pool and one.p2o5:
            yield (
                f"season[{number}].p2o5 is for another application, but need.pool = "
                "true asks this one to serve later seasons: take one of them out"
            )
        if one.straw_yield is not None and one.residue != "removed":
            yield f'season[{number}].straw_yield needs residue = "removed"'
        if one.grain_p is not None and one.moisture is not None:
            yield (
                f"season[{number}]: moisture is for a table's removal; with grain_p it "
                "stands in dry_matter"
            )


def _of_history(balance: BalancePlan) -> Iterator[str]:
    history = balance.history
    if len(history) == 1:
        yield "balance.history needs two soil tests or more: the field's changes count"
    for number, (before, one) in enumerate(pairwise(history), start=2):
        if one.year <= before.year:
            yield (
                f"balance.history[{number}].year = {one.year}: must come after "
                f"{before.year}"
            )
        if one.applied is None or one.removed is None:
            yield (
                f"balance.history[{number}] needs applied and removed, the P2O5 since "
                f"the test of {before.year}"
            )
