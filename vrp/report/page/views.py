"""What the page says of a run, as text; its words stand in the templates."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version

from vrp.agronomy.cautions import Caution
from vrp.evidence import Finding, shown
from vrp.legend import (
    area_unit,
    mass_unit,
    product_rate_unit,
    product_unit,
    rate_unit,
)
from vrp.plan import Plan
from vrp.prescription import MachineGrid, Prescription
from vrp.report.page.ground import Certainty, certainty
from vrp.report.page.over_time import Rotation, rotation
from vrp.report.page.signing import Signing, signing
from vrp.report.page.sums import Against, against
from vrp.report.page.waters import Waters, waters
from vrp.report.page.zones import ZoneTable, zone_table
from vrp.report.terminal import verdict_sentence

# Findings of one kind that are not folded away: our choice, a first screen.
MOST_ALIKE = 5
_ORDER = {"stop": 0, "warn": 1, "note": 2}


@dataclass(frozen=True, slots=True)
class Units:
    """What the page's figures are in."""

    area: str
    mass: str
    rate: str  # of nutrients
    spread: str  # of product
    product: str
    soil_test: str
    length: str
    depth: str


@dataclass(frozen=True, slots=True)
class Crop:
    """A season of the plan."""

    name: str
    goal: str
    residue: str


@dataclass(frozen=True, slots=True)
class Head:
    """What the field is and what is planned on it."""

    name: str
    year: str
    farm: str
    client: str
    area: str
    crops: tuple[Crop, ...]
    product: str
    guideline: str
    verdict: str
    composites: bool
    held_back: bool


@dataclass(frozen=True, slots=True)
class Told:
    """Findings of one kind, which have one remedy."""

    severity: str
    code: str
    messages: tuple[str, ...]
    more: tuple[str, ...]  # that are folded away
    remedy: str
    accepted: str
    holds_back: bool


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that the plan says; `name` is a word's key in the template."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Guideline:
    """Which guideline was applied, and how far its figures were checked."""

    title: str
    source: str
    id: str
    status: str
    region: str
    build_years: str
    critical: str
    no_need_above: str
    figures: tuple["Figure", ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A rule of the ledgers, with what stands behind it."""

    steps: str
    rule: str
    status: str
    where: str


@dataclass(frozen=True, slots=True)
class Grid:
    """How far the task data is from the zones."""

    cell: str
    total_error: str
    worst_zone: int
    worst_error: str
    default_rate: str


@dataclass(frozen=True, slots=True)
class Input:
    """A file that was read, and the sha256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Page:
    """All that the page says."""

    units: Units
    head: Head
    stops: tuple[Told, ...]
    warns: tuple[Told, ...]
    notes: tuple[Told, ...]
    zones: ZoneTable
    grid: Grid | None
    against: Against
    rotation: Rotation
    placement: tuple[Fact, ...]
    water: Waters
    said_of_water: tuple[Told, ...]
    cautions: dict[str, tuple[Caution, ...]]  # by the part that they stand in
    certainty: Certainty | None
    guideline: Guideline
    plan: tuple[Fact, ...]
    inputs: tuple[Input, ...]
    digest: str
    version: str
    signing: Signing


def view(prescription: Prescription, *, digest: str, inputs: Mapping[str, str]) -> Page:
    """Return what the page says."""
    plan, kinds = prescription.plan, told(prescription.findings)
    of_water = waters(prescription)
    us = plan.units == "us"
    return Page(
        units=Units(
            area_unit(prescription),
            mass_unit(prescription),
            rate_unit(prescription),
            product_rate_unit(prescription),
            product_unit(prescription),
            prescription.guideline.soil_test_unit,
            "ft" if us else "m",
            "in" if us else "cm",
        ),
        head=_head(prescription),
        stops=tuple(one for one in kinds if one.severity == "stop"),
        warns=tuple(one for one in kinds if one.severity == "warn"),
        notes=tuple(one for one in kinds if one.severity == "note"),
        zones=zone_table(prescription),
        grid=_grid(prescription.grid),
        against=against(prescription),
        rotation=rotation(prescription),
        placement=_placement(plan),
        water=of_water,
        said_of_water=told(of_water.findings),
        cautions=_cautions(prescription),
        certainty=certainty(prescription),
        guideline=_guideline(prescription),
        plan=_plan(prescription),
        inputs=tuple(Input(*one) for one in sorted(inputs.items())),
        digest=digest,
        version=version("vrp"),
        signing=signing(prescription),
    )


def told(findings: tuple[Finding, ...]) -> tuple[Told, ...]:
    """Return findings, the gravest first, those of one kind together."""
    kinds: dict[tuple[str, str, str], list[Finding]] = {}
    for one in findings:
        kinds.setdefault((one.severity, one.code, one.remedy), []).append(one)
    return tuple(
        Told(
            severity,
            code,
            tuple(one.message for one in alike[:MOST_ALIKE]),
            tuple(one.message for one in alike[MOST_ALIKE:]),
            remedy[:1].upper() + remedy[1:],
            alike[0].accepted or "",
            any(one.holds_back for one in alike),
        )
        for (severity, code, remedy), alike in sorted(
            kinds.items(), key=lambda kind: _ORDER[kind[0][0]]
        )
    )


def _cautions(prescription: Prescription) -> dict[str, tuple[Caution, ...]]:
    found: dict[str, tuple[Caution, ...]] = {}
    for one in prescription.cautions:
        found[one.where] = (*found.get(one.where, ()), one)
    return found


def _head(prescription: Prescription) -> Head:
    plan, totals = prescription.plan, prescription.totals
    field, product = plan.field, plan.product
    grade = (
        product.grade if product.s is None else f"{product.grade}, {product.s:g} % S"
    )
    return Head(
        field.name,
        "" if field.year is None else str(field.year),
        field.farm or "",
        field.client or "",
        f"{totals.area:,.1f}",
        _crops(prescription),
        grade,
        prescription.guideline.id,
        verdict_sentence(prescription),
        prescription.surface is None,
        prescription.held_back,
    )


def _crops(prescription: Prescription) -> tuple[Crop, ...]:
    found = []
    for season in prescription.plan.season:
        facts = [one for one in prescription.seasons if one.crop == season.crop]
        goals = [one.yield_goal for one in facts]
        ends = dict.fromkeys((f"{min(goals):g}", f"{max(goals):g}")) if goals else {}
        unit = facts[0].yield_unit if facts else ""
        found.append(
            Crop(season.crop, f"{'–'.join(ends)} {unit}".strip(), season.residue or "")
        )
    return tuple(found)


def _grid(facts: MachineGrid | None) -> Grid | None:
    if facts is None:
        return None
    return Grid(
        f"{facts.cell:g}",
        f"{abs(100.0 * facts.total_error):.2f}",
        facts.worst_zone,
        f"{100.0 * facts.worst_error:+.1f}".replace("-", "−"),
        f"{facts.default_rate:g}",
    )


def _facts(*pairs: tuple[str, object]) -> tuple[Fact, ...]:
    """Return what is known of some pairs."""
    return tuple(
        Fact(name, f"{value:g}" if isinstance(value, float) else str(value))
        for name, value in pairs
        if value is not None
    )


def _plan(prescription: Prescription) -> tuple[Fact, ...]:
    plan, machine = prescription.plan, prescription.plan.machine
    table, length = plan.samples, "ft" if plan.units == "us" else "m"
    depth = "in" if plan.units == "us" else "cm"
    spread = product_rate_unit(prescription)

    def with_unit(value: float | None, unit: str) -> str | None:
        return None if value is None else f"{shown(value, most=2)} {unit}"

    return _facts(
        ("method", table.method),
        ("counted", None if table.convert is None else table.counted_method),
        ("samples", str(len(prescription.samples))),
        ("kind", table.kind),
        ("sampled", table.sampled),
        ("depth", with_unit(table.depth, depth)),
        ("lab_cv", with_unit(table.lab_cv, "%")),
        ("min_rate", with_unit(machine.min_rate or None, spread)),
        ("max_rate", with_unit(machine.max_rate, spread)),
        ("step", with_unit(machine.step, spread)),
        ("swath", with_unit(machine.swath, length)),
        ("cell", with_unit(prescription.cell, length)),
        ("seed", str(plan.zones.seed)),
    )


def _placement(plan: Plan) -> tuple[Fact, ...]:
    asked = plan.application
    if asked is None:
        return ()
    depth = "in" if plan.units == "us" else "cm"

    def with_unit(value: float | None) -> str | None:
        return None if value is None else f"{value:g} {depth}"

    return _facts(
        ("date", asked.date),
        ("placed", asked.method),
        ("placed_depth", with_unit(asked.depth)),
        ("row_spacing", with_unit(asked.row_spacing)),
        ("tillage", asked.tillage),
        ("tillage_depth", with_unit(asked.tillage_depth)),
    )


def _guideline(prescription: Prescription) -> Guideline:
    facts = prescription.guideline
    rules: dict[tuple[str, str, str], dict[str, None]] = {}
    for zone in prescription.zones:
        for line in zone.ledger:
            # What the user gave, or the lines above make, is no figure to be checked.
            if line.source.status in {"given", "computed"}:
                continue
            key = (line.rule, line.source.status, line.source.where)
            rules.setdefault(key, {})[line.step] = None
    limit = facts.no_need_above
    return Guideline(
        facts.title,
        facts.source,
        facts.id,
        facts.status,
        facts.region or "",
        "" if facts.build_years is None else str(facts.build_years),
        f"{facts.critical:g}",
        "" if limit is None else f"{limit:g}",
        tuple(
            Figure("; ".join(steps), rule, status, where)
            for (rule, status, where), steps in rules.items()
        ),
    )
