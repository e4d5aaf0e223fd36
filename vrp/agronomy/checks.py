"""Every finding that can come up, as its file lists them."""

import tomllib
from functools import cache
from importlib.resources import files

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import complaint
from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.errors import GuidelineError
from vrp.evidence import Finding, Severity
from vrp.units import System

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)


@_part
class Limit:
    """
    A limit that brings a finding up.

    Attributes
    ----------
    value : float
        The limit itself raises nothing, unless the check says so.
    unit : str
        Its unit, empty for a bare number.
    """

    value: Number
    unit: str


@_part
class Beyond:
    """
    When a finding is more severe.

    Attributes
    ----------
    severity : str
        The severity it then has.
    when : str
        In words.
    limit : Limit, optional
        The limit, where it is a number.
    limit_metric : Limit, optional
        The same where a plan is metric.
    """

    severity: Severity
    when: Text
    limit: Limit | None = None
    limit_metric: Limit | None = None


@_part
class Check:
    """
    One finding that can come up.

    Attributes
    ----------
    code : str
        Its name, in files and under ``[accept]``.
    severity : str
        stop, warn or note.
    limit : Limit, optional
        What brings it up, where that is a number.
    limit_metric : Limit, optional
        The same where a plan is metric.
    also : Limit, optional
        A second limit, where it takes both.
    beyond : Beyond, optional
        When it is more severe.
    source : Source
        Who sets the limit.
    meaning : str
        What it means for the map.
    remedy : str
        What mends it.
    """

    code: Text
    severity: Severity
    limit: Limit | None = None
    limit_metric: Limit | None = None
    also: Limit | None = None
    beyond: Beyond | None = None
    source: Cited
    meaning: Text
    remedy: Text

    def at(self, system: System) -> Limit:
        """
        Return the limit in a plan's units.

        Parameters
        ----------
        system : str
            ``us`` or ``metric``.

        Returns
        -------
        Limit
            What brings the finding up.
        """
        return _chosen(self, system, code=self.code)

    def far(self, system: System) -> Limit:
        """
        Return the limit of the greater severity in a plan's units.

        Parameters
        ----------
        system : str
            ``us`` or ``metric``.

        Returns
        -------
        Limit
            What makes the finding more severe.
        """
        return _chosen(self.beyond, system, code=self.code)

    def worse(self) -> Severity:
        """
        Return the greater severity.

        Returns
        -------
        str
            The severity beyond, or the code's own where there is none.
        """
        return self.severity if self.beyond is None else self.beyond.severity


_CHECKS = TypeAdapter(dict[str, Check])


@cache
def _checks() -> dict[str, Check]:
    text = (files("vrp.agronomy") / "data" / "checks.toml").read_text("utf-8")
    table = {
        code: {"code": code, **entry} for code, entry in tomllib.loads(text).items()
    }
    try:
        return _CHECKS.validate_python(table)
    except ValidationError as error:
        found = complaint(error, (Check,))
        raise GuidelineError(f"checks.toml: {found}") from error


def checks() -> dict[str, Check]:
    """
    Return every finding that can come up.

    Returns
    -------
    dict of Check
        By code.
    """
    return dict(_checks())


def finding(
    code: str,
    *,
    place: str,
    message: str,
    zone: int | None = None,
    value: float | None = None,
    unit: str = "",
    bound: float | None = None,
    severity: Severity | None = None,
) -> Finding:
    """
    Return a finding with the severity and the remedy of its code.

    Parameters
    ----------
    code : str
        One of `checks`.
    place : str
        Where: a file, the field, a zone, a key of the field file.
    message : str
        One sentence: what, where, value with unit, bound.
    zone : int, optional
        Number of the zone.
    value : float, optional
        What was found. [unit]
    unit : str
        Of value and bound.
    bound : float, optional
        What it was held against. [unit]
    severity : str, optional
        Another severity than the code's own.

    Returns
    -------
    Finding
        Not accepted yet.

    Raises
    ------
    KeyError
        If there is no such code.
    """
    check = _checks()[code]
    level = severity or check.severity
    return Finding(code, level, place, zone, value, unit, bound, message, check.remedy)


def _chosen(part: Check | Beyond | None, system: System, *, code: str) -> Limit:
    if part is None or part.limit is None:
        raise GuidelineError(f"checks.toml: {code}: a limit is missing")
    if system == "metric" and part.limit_metric is not None:
        return part.limit_metric
    return part.limit
