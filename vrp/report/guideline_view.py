"""Guidelines in the terminal: which there are, and every figure of one."""

from collections import Counter
from typing import IO, Any

from vrp.agronomy.comparison import alone
from vrp.agronomy.figures import walk
from vrp.agronomy.guidelines import Guideline, shipped
from vrp.agronomy.variants import Residue
from vrp.errors import InputError
from vrp.report import need_view, terminal
from vrp.units import System


def listing(*, as_json: bool, file: IO[str]) -> None:
    """Print the guidelines that ship, with their crops and how far they were read."""
    known = shipped()
    if as_json:
        terminal.print_json(
            {name: _facts(one) for name, one in known.items()}, file=file
        )
        return
    for name, one in known.items():
        rows = [
            ("publication", _citation(one)),
            ("soil test", _soil_test(one)),
            ("crops", ", ".join(one.crops)),
            ("figures", _statuses(one)),
        ]
        terminal.table(name, ("", ""), rows, file=file)


def one(
    name: str,
    guideline: Guideline,
    *,
    as_json: bool,
    file: IO[str],
    crop: str | None = None,
    yield_goal: float | None = None,
    system: System | None = None,
    method: str | None = None,
    residue: Residue | None = None,
    region: str | None = None,
) -> None:
    """Print every figure of a guideline with its status and source, and its needs."""
    if crop is None and yield_goal is not None and len(guideline.crops) > 1:
        crops = ", ".join(guideline.crops)
        raise InputError(f"a yield goal is for one crop: choose one of {crops}")
    needs = {
        each: alone(
            name,
            guideline,
            each,
            yield_goal=yield_goal,
            system=system,
            method=method,
            residue=residue,
            region=region,
        )
        for each in (guideline.crops if crop is None else (crop,))
    }
    figures = tuple(walk(guideline))
    if as_json:
        listed = [
            {
                "name": each.name,
                "printed": each.printed,
                "status": each.source.status,
                "where": each.source.where,
            }
            for each in figures
        ]
        facts = {"figures": listed, "needs": need_view.facts(needs)}
        terminal.print_json(_facts(guideline) | facts, file=file)
        return
    terminal.table(
        name,
        ("", ""),
        [
            ("publication", _citation(guideline)),
            ("state", guideline.state),
            ("read on", str(guideline.read_on)),
            ("soil test", _soil_test(guideline)),
            ("rates in", guideline.printed_unit),
            ("figures", _statuses(guideline)),
        ],
        file=file,
    )
    entries = [
        (f"{each.name}: {each.printed}", f"{each.source.status}: {each.source.where}")
        for each in figures
    ]
    terminal.entries("Figures as printed", entries, file=file)
    need_view.show(guideline, needs, asked=yield_goal is not None, file=file)


def _facts(guideline: Guideline) -> dict[str, Any]:
    return {
        "citation": _citation(guideline),
        "state": guideline.state,
        "methods": list(guideline.soil_test.methods),
        "soil_test_unit": guideline.soil_test.unit,
        "rates_in": guideline.printed_unit,
        "crops": list(guideline.crops),
        "statuses": dict(_count(guideline)),
    }


def _citation(guideline: Guideline) -> str:
    return (
        f"{guideline.title}, {guideline.number}, {guideline.publisher}, "
        f"{guideline.year}, {guideline.url}"
    )


def _soil_test(guideline: Guideline) -> str:
    test = guideline.soil_test
    return f"{', '.join(test.methods)} in {test.unit}, 0–{test.depth}"


def _count(guideline: Guideline) -> Counter[str]:
    return Counter(each.source.status for each in walk(guideline))


def _statuses(guideline: Guideline) -> str:
    return ", ".join(f"{count} {status}" for status, count in _count(guideline).items())
