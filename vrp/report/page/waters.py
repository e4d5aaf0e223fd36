"""Placement and water: what the plan says, what stands against it, rules by name."""

from dataclasses import dataclass

from vrp.agronomy.water import RuleSet
from vrp.agronomy.water_facts import ZoneWater
from vrp.evidence import MOST_ROWS, Finding, Source, shown
from vrp.prescription import Prescription, Setback
from vrp.report.setback_view import kept_out
from vrp.report.water_view import Text, water_of_zones

# Findings that are said once more where placement and water are.
CODES = frozenset(
    {
        "band-factor-draws-down",
        "band-factor-not-low",
        "broadcast-on-top",
        "manure-screen",
        "no-till-stratified",
        "no-water-features",
        "on-top-near-water",
        "p-index",
        "product-caution",
        "rate-over-no-need",
        "rule-not-judged",
        "rule-placement",
        "rule-season",
        "rule-soil-test",
        "sandy-leaches",
        "seed-row-limit",
        "seed-row-unknown",
        "slope-as-read",
        "slope-not-covered",
        "soil-test-very-high",
        "tillage-takes-down",
    }
)


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that matters for water in a zone."""

    stands: str  # against, for, not known
    said: str
    source: Source


@dataclass(frozen=True, slots=True)
class Facts:
    """What matters for water in a zone."""

    against: int
    judged: int
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Decided:
    """A rule of a set."""

    text: str
    does: str
    source: Source


@dataclass(frozen=True, slots=True)
class Rules:
    """A set of rules that the plan names."""

    id: str
    citation: str
    place: str
    standing: str
    rules: tuple[Decided, ...]
    also: tuple[Decided, ...]


@dataclass(frozen=True, slots=True)
class Distance:
    """How far product is kept from water, and by which rule."""

    kind: str
    file: str
    features: str
    distance: str
    no_drive: str
    nearest: str
    area: str
    rule: str
    source: Source


@dataclass(frozen=True, slots=True)
class Waters:
    """All of it, for the whole field."""

    kept: tuple[str, ...]  # sentences
    distances: tuple[Distance, ...]
    findings: tuple[Finding, ...]
    zones: Text | None
    rules: tuple[Rules, ...]


def waters(prescription: Prescription) -> Waters:
    """Return what is said of placement and water."""
    water = prescription.water
    return Waters(
        tuple(kept_out(prescription)),
        () if water is None else tuple(_distance(one) for one in water.setbacks),
        tuple(one for one in prescription.findings if one.code in CODES),
        water_of_zones(prescription.water_zones),
        tuple(_rules(one) for one in prescription.rules),
    )


def _distance(one: Setback) -> Distance:
    features = ", ".join(map(str, one.features[:MOST_ROWS]))
    more = len(one.features) - MOST_ROWS
    return Distance(
        one.kind,
        one.file,
        features + (f" and {more} more" if more > 0 else ""),
        "" if one.distance is None else shown(one.distance, most=1),
        "" if one.no_drive is None else shown(one.no_drive, most=1),
        f"{one.nearest:,.0f}",
        f"{one.area:,.2f}",
        one.rule,
        one.source,
    )


def facts_of(prescription: Prescription) -> dict[int, Facts]:
    """Return what matters for water in each zone, by its number."""
    return {one.zone: _facts(one) for one in prescription.water_zones}


def _facts(zone: ZoneWater) -> Facts:
    return Facts(
        zone.against,
        zone.judged,
        tuple(Fact(one.stands, one.said, one.source) for one in zone.facts),
    )


def _rules(rules: RuleSet) -> Rules:
    return Rules(
        rules.id,
        rules.citation,
        rules.place,
        rules.standing,
        tuple(
            Decided(one.text, one.does, one.source)
            for _, decided in rules.by_kind()
            for one in decided
        ),
        tuple(Decided(one.text, "", one.source) for one in rules.also),
    )
