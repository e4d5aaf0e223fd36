"""Kinds of value that a field file holds, each with its bounds."""

from typing import Annotated

from pydantic import AfterValidator, ConfigDict, Field, StringConstraints
from pydantic.dataclasses import dataclass

Text = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)
]


def _two_decimals(rate: float) -> float:
    if round(rate, 2) != rate:
        raise ValueError("write two decimals at most")
    return rate


Positive = Annotated[float, Field(gt=0, strict=True)]
NotNegative = Annotated[float, Field(ge=0, strict=True)]
PositiveRate = Annotated[Positive, AfterValidator(_two_decimals)]
Rate = Annotated[NotNegative, AfterValidator(_two_decimals)]
Percent = Annotated[float, Field(gt=0, le=100, strict=True)]
Position = tuple[float, float]

_STRICT = ConfigDict(extra="forbid", allow_inf_nan=False)
table = dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
