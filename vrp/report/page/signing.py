"""What a person takes on by signing: what was accepted, set by hand or confirmed."""

from dataclasses import dataclass

from vrp.prescription import Prescription


@dataclass(frozen=True, slots=True)
class Taken:
    """Something that the plan says against a finding or a guideline, and why."""

    what: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class Signing:
    """What stands above the signature."""

    accepted: tuple[Taken, ...]
    overrides: tuple[Taken, ...]
    confirmed: tuple[Taken, ...]
    credits: tuple[Taken, ...]


def signing(prescription: Prescription) -> Signing:
    """Return what is taken on."""
    plan = prescription.plan
    accepted = {one.code: one.accepted for one in prescription.findings if one.accepted}
    return Signing(
        tuple(Taken(code, "", why) for code, why in accepted.items()),
        tuple(
            Taken(_place(one.point), f"{one.p2o5:g}", one.reason)
            for one in plan.override
        ),
        tuple(Taken(name, "", said) for name, said in plan.confirm.items()),
        tuple(
            Taken(
                one.name,
                f"{one.p2o5:g}" if isinstance(one.p2o5, float) else "",
                one.source,
            )
            for one in plan.credit
        ),
    )


def _place(point: tuple[float, float] | None) -> str:
    return "" if point is None else f"{point[0]:.5f}, {point[1]:.5f}"
