"""Guidelines in the terminal: which there are, and every figure of one."""

import json
from collections import Counter
from typing import IO, Any

from vrp.agronomy.figures import walk
from vrp.agronomy.guidelines import Guideline, shipped
from vrp.report import terminal


def listing(*, as_json: bool, file: IO[str]) -> None:
    """Print the guidelines that ship, with their crops and how far they were read."""
    known = shipped()
    if as_json:
        print_json({name: _facts(one) for name, one in known.items()}, file=file)
        return
    for name, one in known.items():
        rows = [
            ("publication", _citation(one)),
            ("soil test", _soil_test(one)),
            ("crops", ", ".join(one.crops)),
            ("figures", _statuses(one)),
        ]
        terminal.table(name, ("", ""), rows, file=file)


def one(name: str, guideline: Guideline, *, as_json: bool, file: IO[str]) -> None:
    """Print every figure of a guideline with its status and source."""
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
        print_json(_facts(guideline) | {"figures": listed}, file=file)
        return
    terminal.table(
        name,
        ("", ""),
        [
            ("publication", _citation(guideline)),
            ("state", guideline.state),
            ("read on", str(guideline.read_on)),
            ("soil test", _soil_test(guideline)),
            ("rates in", guideline.p2o5_unit),
            ("figures", _statuses(guideline)),
        ],
        file=file,
    )
    entries = [
        (f"{each.name}: {each.printed}", f"{each.source.status}: {each.source.where}")
        for each in figures
    ]
    terminal.entries("Figures as printed", entries, file=file)


def print_json(content: Any, *, file: IO[str]) -> None:
    """Print anything as JSON."""
    file.write(json.dumps(content, ensure_ascii=False, indent=1) + "\n")


def _facts(guideline: Guideline) -> dict[str, Any]:
    return {
        "citation": _citation(guideline),
        "state": guideline.state,
        "methods": list(guideline.soil_test.methods),
        "soil_test_unit": guideline.soil_test.unit,
        "rates_in": guideline.p2o5_unit,
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
