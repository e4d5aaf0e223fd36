"""What a published guideline may say: one model for each form."""

from vrp.agronomy.forms.build_up_maintenance import (
    BuildUpCrop,
    BuildUpMaintenance,
    Levels,
    Region,
    Rotation,
    Years,
)
from vrp.agronomy.forms.equation import EquationCrop, EquationGuideline, Terms
from vrp.agronomy.forms.guideline import (
    Crop,
    Guideline,
    PhRule,
    Rounding,
    SoilTest,
    Surplus,
)
from vrp.agronomy.forms.points import Points, PointsCrop, PointsGuideline
from vrp.agronomy.forms.tables import (
    ClassCrop,
    ClassTable,
    IndexCrop,
    IndexTable,
    MethodClasses,
    RemovalClass,
    ResidueRates,
)

__all__ = [
    "BuildUpCrop",
    "BuildUpMaintenance",
    "ClassCrop",
    "ClassTable",
    "Crop",
    "EquationCrop",
    "EquationGuideline",
    "Guideline",
    "IndexCrop",
    "IndexTable",
    "Levels",
    "MethodClasses",
    "PhRule",
    "Points",
    "PointsCrop",
    "PointsGuideline",
    "Region",
    "RemovalClass",
    "ResidueRates",
    "Rotation",
    "Rounding",
    "SoilTest",
    "Surplus",
    "Terms",
    "Years",
]
