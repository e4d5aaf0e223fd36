"""How sure the surface is: what else was tried, and whether its errors hold."""

from dataclasses import dataclass

from vrp.evidence import percent, percent_of
from vrp.prescription import Prescription, Skill


@dataclass(frozen=True, slots=True)
class Tried:
    """One way to estimate, with its errors where samples were left out."""

    method: str
    chosen: bool
    leave_one_out: str
    blocked: str
    difference: str  # of blocked squared errors, with its standard error


@dataclass(frozen=True, slots=True)
class Skilled:
    """The share of the field mean's squared error that is removed, in per cent."""

    what: str
    leave_one_out: str
    blocked: str
    most: str


@dataclass(frozen=True, slots=True)
class Certainty:
    """The facts of the surface."""

    method: str
    reason: str
    samples: str
    spacing: str
    verdict: str
    skills: tuple[Skilled, ...]
    tried: tuple[Tried, ...]
    inside_50: str
    inside_80: str
    inside_95: str


def certainty(prescription: Prescription) -> Certainty | None:
    """Return how sure the surface is; None for composites."""
    facts = prescription.surface
    if facts is None:
        return None
    held = facts.calibration
    per = prescription.plan.metres_per_length
    spacing = facts.spacing_m
    return Certainty(
        facts.method,
        facts.reason,
        str(facts.samples),
        "" if spacing is None else f"{spacing / per:,.0f}",
        facts.verdict,
        tuple(
            _skilled(what, one)
            for what, one in (
                ("soil_test", facts.skill.soil_test),
                ("need", facts.skill.need),
            )
            if one is not None
        ),
        tuple(
            Tried(
                one.method,
                one.chosen,
                _error(one.leave_one_out),
                _error(one.blocked),
                _difference(one.difference, one.standard_error, chosen=one.chosen),
            )
            for one in facts.candidates
        ),
        "" if held is None else percent(held.coverage_50),
        "" if held is None else percent(held.coverage_80),
        "" if held is None else percent(held.coverage_95),
    )


def _skilled(what: str, skill: Skill) -> Skilled:
    return Skilled(
        what,
        percent_of(
            skill.leave_one_out, skill.leave_one_out_low, skill.leave_one_out_high
        ),
        percent_of(skill.blocked, skill.blocked_low, skill.blocked_high),
        "" if skill.most is None else percent(skill.most),
    )


def _error(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _difference(value: float | None, error: float | None, *, chosen: bool) -> str:
    if value is None or chosen:
        return ""
    said = f"{value:+.1f}".replace("-", "−")
    return said if error is None else f"{said} ± {error:.1f}"
