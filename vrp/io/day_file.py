"""What is told of the day of application: by options, or in a small TOML file."""

import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, ConfigDict, Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import complaint
from vrp.errors import InputError
from vrp.plan_values import NotNegative, Positive
from vrp.units import System

Answer = Annotated[bool, Field(strict=True)] | None
Day = date  # where a key is called date as well

_STRICT = ConfigDict(extra="forbid", allow_inf_nan=False)


def _no_share(chance: float) -> float:
    if 0.0 < chance <= 1.0:
        raise ValueError("write a percent, such as 60 for 60 %")
    return chance


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Window:
    """``[[forecast]]``: rain within hours, and its chance."""

    rain: NotNegative  # inches or mm, by units
    hours: Positive
    chance: Annotated[
        float, Field(ge=0, le=100, strict=True), AfterValidator(_no_share)
    ]


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Told:
    """All that may be told of the day."""

    units: System
    date: Day | None = None
    forecast: tuple[Window, ...] = ()
    frozen: Answer = None
    snow: Answer = None
    saturated: Answer = None
    growing_crop: Answer = None
    worked_in: Positive | None = None  # hours
    injected: Annotated[bool, Field(strict=True)] = False

    def __post_init__(self) -> None:
        """Refuse what cannot both be."""
        if self.injected and self.worked_in is not None:
            raise ValueError("injected and worked_in exclude each other")


_TOLD = TypeAdapter(Told)


def told(file: Path | None, options: Mapping[str, Any], *, units: System) -> Told:
    """Return what a file tells of the day, options first; units are the record's."""
    given: dict[str, Any] = {}
    name = "the day"
    if file is not None:
        name = file.name
        given = _read(file)
        if given.get("units") != units:
            raise InputError(
                f'{name}: units must be "{units}", as in the record, got '
                f"{given.get('units')!r}"
            )
    given |= {key: value for key, value in options.items() if value is not None}
    given |= {"units": units}
    if options.get("windows"):
        # As options have them: rain, hours, chance.
        given["forecast"] = [
            dict(zip(("rain", "hours", "chance"), one, strict=True))
            for one in options["windows"]
        ]
    given.pop("windows", None)
    try:
        return _TOLD.validate_python(given)
    except ValidationError as error:
        raise InputError(f"{name}: {complaint(error, (Told,))}") from error


def _read(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text("utf-8-sig"))
    except (OSError, UnicodeDecodeError) as exc:
        raise InputError(f"{file}: cannot be read: {exc}") from exc
    except tomllib.TOMLDecodeError as exc:
        raise InputError(f"{file.name}: not valid TOML: {exc}") from exc
