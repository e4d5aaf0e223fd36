"""report.html: written as it is, its figures read back as a reader sees them."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

from vrp.io.agreement import Comparison, numbered, zone_rows
from vrp.io.folder import RECORD
from vrp.legend import rate_column
from vrp.prescription import Prescription

NAME = "report.html"
_SUMS = ("p2o5_need", "p2o5_applied", "nitrogen", "product", "cost")


@dataclass(frozen=True, slots=True)
class Shown:
    """A figure of the page: as it is meant, and as it is read."""

    value: str
    text: str


Figures = dict[str, Shown]


@dataclass(slots=True)
class Held:
    """What a page holds."""

    digest: str = ""
    zones: list[tuple[int, Figures]] = field(default_factory=list)
    sums: dict[str, Figures] = field(default_factory=dict)
    rates: list[tuple[str, str]] = field(default_factory=list)  # of the map


def write(out: Path, text: str) -> None:
    """Write the page into an output folder."""
    (out / NAME).write_text(text, "utf-8", newline="\n")


def read(path: Path) -> Held:
    """Return the figures of a page."""
    reader = _Reader()
    reader.feed(path.read_text("utf-8"))
    reader.close()
    return reader.held


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.held = Held()
        self._into: Figures | None = None
        self._name = ""
        self._value = ""
        self._text: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "html":
            self.held.digest = found.get("data-digest", "")
        elif tag == "tr" and "data-zone" in found:
            self._into = {}
            self.held.zones.append((int(found["data-zone"]), self._into))
        elif tag == "td" and "data-sum" in found:
            self._into = self.held.sums.setdefault(found["data-sum"], {})
        elif tag == "a" and "data-rate" in found:
            self.held.rates.append((found.get("href", ""), found["data-rate"]))
        elif tag == "data":
            self._name, self._value = found.get("data-name", ""), found.get("value", "")
            self._text = []

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self._text.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "data" and self._text is not None and self._into is not None:
            self._into[self._name] = Shown(self._value, "".join(self._text))
            self._text = None
        elif tag in {"table", "section"}:
            self._into = None


def comparisons(prescription: Prescription) -> tuple[Comparison, ...]:
    """Return what can be compared in the page, where the plan asks for one."""
    if not prescription.plan.files.report:
        return ()
    return (Comparison((NAME,), "zones, rates, totals, digest", _faults),)


def _faults(out: Path, prescription: Prescription) -> Iterator[str]:
    held = read(out / NAME)
    own = json.loads((out / RECORD).read_text("utf-8"))["digest"]
    if held.digest != own:
        yield f"{NAME} is of the record {held.digest[:8]}, not {own[:8]}"
    yield from numbered(
        prescription, [{"zone": number} for number, _ in held.zones], place=NAME
    )
    rows = dict(held.zones)
    for row in zone_rows(prescription):
        number = int(str(row["zone"]))
        place, figures = f"{NAME}, zone {number}", rows.get(number, {})
        for name, shown in figures.items():
            yield from same_figure(name, shown, row.get(name), place=place)
        spread = rate_column(prescription)
        if figures and spread not in figures:
            yield f"{place}: has no {spread}, not {row[spread]!r}"
    for word, amounts in (
        ("zones", prescription.totals.zones),
        ("uniform", prescription.totals.uniform),
    ):
        found = held.sums.get(word, {})
        for name in _SUMS:
            wanted = getattr(amounts, name)
            if name in found:
                yield from same_figure(
                    name, found[name], wanted, place=f"{NAME}, {word}"
                )
            elif name in {"p2o5_need", "p2o5_applied", "product"}:
                yield f"{NAME}, {word}: has no {name}, not {wanted!r}"
    drawn = [(f"#zone-{one.number}", repr(one.rate)) for one in prescription.zones]
    if held.rates != drawn:
        yield f"{NAME}: the rates of the map are not those of the zones"


def same_figure(
    name: str, shown: Shown, wanted: object, *, place: str
) -> Iterator[str]:
    """Yield where a figure is another, or is shown as another."""
    meant = wanted if isinstance(wanted, str) else repr(wanted)
    if shown.value != meant:
        yield f"{place}: {name} reads {shown.value!r}, not {meant!r}"
    elif isinstance(wanted, (int, float)) and not _rounded(shown.text, wanted):
        yield f"{place}: {name} is shown as {shown.text!r}, which is not {meant}"


def _rounded(text: str, value: float) -> bool:
    """Return whether text shows a value to the decimals that it has."""
    bare = text.replace(",", "").replace("−", "-")
    if bare.endswith(" %"):
        bare, value = bare.removesuffix(" %"), 100.0 * value
    decimals = len(bare.partition(".")[2])
    return abs(float(bare) - value) <= 0.5 * 10.0**-decimals * (1.0 + 1e-9)
