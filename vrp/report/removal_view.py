"""Published removal figures in the terminal, side by side."""

from typing import IO, Any

from vrp.agronomy.removal import crops, sets
from vrp.agronomy.removal_comparison import Comparison, Row, Span, compare
from vrp.report import terminal


def show(crop: str | None, *, as_json: bool, file: IO[str]) -> None:
    """Print every figure of a crop, or of all crops how far they lie apart."""
    found = [compare(one) for one in (crops() if crop is None else (crop,))]
    if as_json:
        plain = [_facts(one, with_rows=crop is not None) for one in found]
        terminal.print_json(plain if crop is None else plain[0], file=file)
    elif crop is None:
        _listing(found, file=file)
    else:
        _one(found[0], file=file)


def _listing(found: list[Comparison], *, file: IO[str]) -> None:
    rows = [
        (
            one.crop if span is one.spans[0] else "",
            _what(span),
            str(span.sets),
            f"{_ends(span)} {_short(span.unit)}",
            f"{span.ratio:.2f}",
        )
        for one in found
        for span in one.spans
    ]
    terminal.table(
        "Published removal and uptake of P2O5, by crop",
        ("crop", "of", "figures", "lowest–highest", "ratio"),
        rows,
        file=file,
    )
    terminal.say("vrp removal CROP shows every figure with its source.", file=file)


def _one(found: Comparison, *, file: IO[str]) -> None:
    rows = [
        (
            row.set_id,
            row.coefficient.part + ("" if _removal(row) else ", uptake"),
            _short(str(row.coefficient)) + _water(row),
            _per_tonne(row),
            row.coefficient.source.status,
        )
        for row in found.rows
    ]
    terminal.table(
        f"{found.crop}: {found.name}",
        ("set", "part", "P2O5 as printed", "kg/t", "status"),
        rows,
        file=file,
    )
    for span in found.spans:
        unlike = ""
        waters = {
            row.coefficient.moisture for row in found.rows if _part(row) == _of(span)
        }
        if len(waters) > 1:
            unlike = "; not all at one moisture"
        terminal.say(
            f"{_what(span)}: {_ends(span)} {span.unit} in {span.sets} figures; the "
            f"highest is {span.ratio:.2f} times the lowest{unlike}",
            file=file,
        )
    terminal.say("", file=file)
    known = sets()
    behind = [
        (f"{row.set_id}: {row.coefficient}", f"{known[row.set_id]}; {_where(row)}")
        for row in found.rows
    ]
    terminal.entries("Sources", behind, file=file)


def _where(row: Row) -> str:
    old = "; superseded" if sets()[row.set_id].state == "superseded" else ""
    return f"{row.coefficient.source.where}{old}"


def _removal(row: Row) -> bool:
    return row.coefficient.kind == "removal"


def _part(row: Row) -> tuple[str, str, str]:
    one = row.coefficient
    return one.kind, one.part, one.basis


def _of(span: Span) -> tuple[str, str, str]:
    return span.kind, span.part, span.basis


def _what(span: Span) -> str:
    dry = ", dry matter" if span.basis == "dry matter" else ""
    return f"{span.part}{dry}{', uptake' if span.kind == 'uptake' else ''}"


def _ends(span: Span) -> str:
    ends = (f"{end:.3g}" for end in (span.lowest, span.highest))
    return "–".join(dict.fromkeys(ends))


def _short(unit: str) -> str:
    return unit.replace(" P2O5/", "/")


def _water(row: Row) -> str:
    one = row.coefficient
    if one.basis == "dry matter":
        return " of dry matter"
    return "" if one.moisture is None else f" at {one.moisture:g} % moisture"


def _per_tonne(row: Row) -> str:
    ends = (f"{end:.3g}" for end in row.per_tonne)
    return "–".join(dict.fromkeys(ends))


def _facts(found: Comparison, *, with_rows: bool) -> dict[str, Any]:
    known = sets()
    spans = [
        {
            "kind": one.kind,
            "part": one.part,
            "basis": one.basis,
            "unit": one.unit,
            "lowest": round(one.lowest, 4),
            "highest": round(one.highest, 4),
            "ratio": round(one.ratio, 4),
            "figures": one.sets,
        }
        for one in found.spans
    ]
    facts: dict[str, Any] = {"crop": found.crop, "name": found.name, "spans": spans}
    if with_rows:
        facts["figures"] = [
            {
                "set": row.set_id,
                "kind": row.coefficient.kind,
                "part": row.coefficient.part,
                "low": row.coefficient.ends[0],
                "high": row.coefficient.ends[1],
                "unit": row.coefficient.unit,
                "basis": row.coefficient.basis,
                "moisture": row.coefficient.moisture,
                "kg_per_tonne": [round(end, 3) for end in row.per_tonne],
                "status": row.coefficient.source.status,
                "where": row.coefficient.source.where,
                "citation": str(known[row.set_id]),
                "state": known[row.set_id].state,
            }
            for row in found.rows
        ]
    return facts
