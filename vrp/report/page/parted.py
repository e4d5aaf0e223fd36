"""How the zones were drawn: clusters of layers, and what drawn zones tell."""

from dataclasses import dataclass

from vrp.evidence import percent
from vrp.prescription import Prescription


@dataclass(frozen=True, slots=True)
class Criterion:
    """How well layers part into a number of clusters."""

    clusters: str
    variance_left: str
    silhouette: str
    calinski_harabasz: str
    davies_bouldin: str
    misplaced: str
    taken: bool


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer that zones were drawn from."""

    name: str
    weight: str
    low: str
    high: str
    missing: str
    how: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """What drawn zones tell of the soil test."""

    zones: str
    samples: str
    between: str
    by_chance: str
    blocked: str


@dataclass(frozen=True, slots=True)
class Parted:
    """All of it; empty where the zones come from the soil test's own map."""

    criteria: tuple[Criterion, ...]
    layers: tuple[Layer, ...]
    drawn: Drawn | None


def parted(prescription: Prescription) -> Parted:
    """Return how the zones were drawn."""
    facts, drawn = prescription.zoning, prescription.drawn
    return Parted(
        ()
        if facts is None
        else tuple(
            Criterion(
                str(one.clusters),
                percent(one.variance_left),
                "" if one.silhouette is None else f"{one.silhouette:.2f}",
                f"{one.calinski_harabasz:,d}",
                f"{one.davies_bouldin:.2f}",
                f"{one.misplaced:.1f}",
                one.clusters == facts.count,
            )
            for one in facts.criteria
        ),
        ()
        if facts is None
        else tuple(
            Layer(
                one.name,
                f"{one.weight:g}",
                f"{one.low:g}",
                f"{one.high:g}",
                percent(one.missing),
                one.how,
            )
            for one in facts.layers
        ),
        None
        if drawn is None
        else Drawn(
            str(drawn.zones),
            str(drawn.samples),
            percent(drawn.between),
            percent(drawn.by_chance),
            "" if drawn.blocked is None else percent(drawn.blocked),
        ),
    )
