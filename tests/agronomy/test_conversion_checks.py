"""What is said of soil tests that are not the laboratory's own figures."""

from dataclasses import astuple

import numpy as np
import pytest

from vrp.agronomy.conversion_checks import (
    column_contradicts,
    column_name,
    computed_test,
    converted_test,
    from_p2o5,
)
from vrp.agronomy.conversions import conversions

OHIO = "bray-p1-from-mehlich-3-ohio"
TO_MEHLICH = "mehlich-3-from-bray-p1-ohio-indiana"
IDAHO = "olsen-from-mehlich-3-idaho"
PLACE = "s.csv"


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


@pytest.mark.parametrize(
    ("name", "ph", "severity", "said"),
    [
        (TO_MEHLICH, [8.2], "warn", "no range seen in print"),
        (OHIO, [6.0, 7.4], "warn", "from 10 ppm"),
        (OHIO, [6.0, 7.5], "stop", "1 of 2 samples have another (row 3)"),
        (IDAHO, [8.0, 6.9], "stop", "1 of 2 samples have another (row 3)"),
        (IDAHO, [8.0, 7.0], "warn", "calcareous soils of Idaho"),
        (IDAHO, [8.0, np.nan], "warn", "1 of 2 samples have none to check"),
        (IDAHO, None, "warn", "2 of 2 samples have none to check"),
    ],
)
def test_soil_that_a_line_is_for(name, ph, severity, said):
    """A line for calcareous soil stops on acid soil, one for Bray P1 on limy soil."""
    (found,) = converted_test(conversions()[name], ph, [2, 3], place=PLACE)

    assert found.severity == severity
    assert said in found.message
    assert "a conversion is no calibration" in found.message


def test_equation_as_printed():
    """The equation stands in the message as it is printed."""
    (found,) = converted_test(conversions()[IDAHO], [8.0], [2], place=PLACE)

    assert "= (Mehlich-3, read by ICP) / 2.05 − 14 [ppm]" in found.message


@pytest.mark.parametrize(
    ("column", "expected"),
    [
        ("P2O5", True),
        ("P2O5 ppm", True),
        ("avail. p2 o5", True),
        ("Phosphate", True),
        ("Bray eq", True),
        ("Bray P1 equivalent", True),
        ("P1 Eqv.", True),
        ("BrayEq", True),
        ("P205", True),
        ("P₂O₅", True),
        ("P 2O5", True),
        ("P2_O5", True),
        ("Phosphorus pentoxide", True),
        ("Bray P1 from M3", True),
        ("Bray (calc)", True),
        ("BrayCalc", True),
        ("P1 converted", True),
        ("Olsen est.", True),
        ("P predicted", True),
        ("phosphate_P_ppm", False),
        ("P from 0-6", False),
        ("Calcareous P", False),
        ("P test west", False),
        ("P", False),
        ("P2", False),
        ("Olsen P mg/L", False),
        ("PO4-P", False),
        ("phosphate-P", False),
        ("Phosphorus", False),
        ("sequence P", False),
    ],
)
def test_column_name(column, expected):
    """A name like P2O5, or like an equivalent of another test, stops."""
    found = column_name(column, expressed=False, computed=False, place=PLACE)

    assert [one.severity for one in found] == ["stop"] * expected
    assert column_name(column, expressed=True, computed=True, place=PLACE) == ()


PLAIN = [
    *[(name, "bray-p1", "ppm") for name in ("P", "P_ppm", "STP", "Soil P", "Phos")],
    *[(name, "olsen", "mg/L") for name in ("P mg/L", "Olsen P mg/L", "P mg/dm3")],
    *[
        (name, "mehlich-3-icp", "ppm")
        for name in ("M3P", "M3-P ICP", "P_M3_ppm", "PM3", "Mehlich III P", "P ICP")
    ],
    *[
        (name, "bray-p1", "ppm")
        for name in (
            "P1",
            "P1 ppm",
            "Bray1-P",
            "BRAYP1_PPM",
            "Bray-Kurtz P-1",
            "Bray P",
            "Weak Bray (P1) ppm",
            "Bray I",
        )
    ],
    *[(name, "bray-p2", "ppm") for name in ("P2", "Strong Bray (P2) ppm", "Bray II")],
    *[
        (name, "olsen", "ppm")
        for name in (
            "Olsen P",
            "NaHCO3-P",
            "Sodium bicarbonate P",
            "P (mg kg-1)",
            "mg P/kg",
            "P 2-6 in",
            "P ppm 0-6 in",
            "P_2026",
            "Available P",
            "Result",
            "P2O5 ppm",
        )
    ],
    ("Mehlich P", "mehlich-3-colorimetric", "mg/kg"),
    ("P lb/ac", "olsen", "lb/ac"),
    ("Mod. Morgan P lb/A", "modified-morgan", "lb/ac"),
    ("Morgan P", "modified-morgan", "ppm"),
]


@pytest.mark.parametrize(("column", "method", "unit"), PLAIN)
def test_names_that_agree(column, method, unit):
    """Names that say nothing, or what the plan says, raise nothing."""
    found = column_contradicts(
        column, method=method, source=None, unit=unit, place=PLACE
    )

    assert found == ()


@pytest.mark.parametrize(
    ("column", "unit", "said"),
    [
        *[
            (f"P {unit}", "ppm", "lb/ac")
            for unit in ("lb/ac", "lb/a", "lbs/acre", "#/ac", "lbs per acre", "lb_ac")
        ],
        ("P (lbs)", "ppm", "lb/ac"),
        ("P kg/ha", "ppm", "kg/ha"),
        ("P mg/100g", "ppm", "mg/100 g"),
        ("P %", "ppm", "%"),
        *[
            (f"P {unit}", "ppm", "mg/L")
            for unit in ("mg/L", "mg/l", "mg/dm3", "mg L-1")
        ],
        *[(f"P {unit}", "lb/ac", "mg/kg") for unit in ("mg/kg", "mgkg", "mg kg-1")],
        ("Pppm", "lb/ac", "ppm"),
        ("P ppm", "mg/L", "ppm"),
    ],
)
def test_names_of_another_unit(column, unit, said):
    """A unit in the name that is not the plan's stops, and both are named."""
    (found,) = column_contradicts(
        column, method="olsen", source=None, unit=unit, place=PLACE
    )

    assert (found.code, found.severity) == ("soil-test-column-contradicts", "stop")
    assert found.message == (
        f"s.csv: column {column!r}: the name says {said}, the plan says {unit}"
    )


@pytest.mark.parametrize(
    ("column", "method", "said"),
    [
        ("Olsen P", "bray-p1", "Olsen (sodium bicarbonate)"),
        ("bicarb P", "bray-p1", "Olsen (sodium bicarbonate)"),
        ("Bray P2", "bray-p1", "Bray P2"),
        ("Strong Bray", "bray-p1", "Bray P2"),
        ("Bray 2", "bray-p1", "Bray P2"),
        ("P2", "bray-p1", "P2 (Bray P2)"),
        ("P1 ppm", "bray-p2", "P1 (Bray P1)"),
        ("P1", "mehlich-3-icp", "P1 (Bray P1)"),
        ("weak Bray", "bray-p2", "Bray P1"),
        ("Bray P1", "mehlich-3-icp", "Bray P1"),
        ("Bray P", "olsen", "Bray"),
        ("Mehlich 3", "bray-p1", "Mehlich-3"),
        ("M3P", "bray-p1", "Mehlich-3"),
        ("Mehlich P", "olsen", "Mehlich-3"),
        ("M1-P", "mehlich-3-icp", "Mehlich-1"),
        ("M3-P ICP", "mehlich-3-colorimetric", "read by ICP"),
        ("M3-P color", "mehlich-3-icp", "read by colour"),
        ("Morgan", "bray-p1", "Morgan"),
        ("Modified Morgan", "morgan", "modified Morgan"),
        ("Colwell P", "olsen", "Colwell"),
        ("Resin P", "olsen", "resin"),
        ("H3A", "olsen", "H3A"),
        ("AB-DTPA P", "olsen", "AB-DTPA"),
        ("Total P", "olsen", "total P"),
        ("TP", "olsen", "total P"),
        ("P saturation", "olsen", "P saturation"),
        ("Psat", "olsen", "P saturation"),
        ("PSI", "olsen", "a P sorption or site index"),
        ("K", "olsen", "potassium"),
        ("Potassium", "olsen", "potassium"),
        ("M3-K", "mehlich-3-icp", "potassium"),
        ("K2O", "olsen", "potassium"),
        ("Mg", "olsen", "magnesium"),
    ],
)
def test_names_of_another_test(column, method, said):
    """Another extract, reading or quantity in the name stops."""
    (found,) = column_contradicts(
        column, method=method, source=None, unit="ppm", place=PLACE
    )

    assert found.severity == "stop"
    assert f"column {column!r}: the name says {said}, the plan says " in found.message


def test_names_of_a_computed_test():
    """Both the method counted as and the one that was run may stand in the name."""
    name = "Bray P1 from M3 lb/ac"

    def held(source, unit="lb/ac"):
        return column_contradicts(
            name, method="bray-p1", source=source, unit=unit, place=PLACE
        )

    assert held("mehlich-3-icp") == ()
    assert held(None) == ()
    (other,) = held("olsen", "ppm")
    assert other.message == (
        f"s.csv: column {name!r}: the name says lb/ac, the plan says ppm; the name "
        "says Mehlich-3, the plan says Bray P1 computed from Olsen (sodium bicarbonate)"
    )


def test_what_is_declared_is_carried_as_converted():
    """P2O5 and a computed equivalent each leave a warning with the reason."""
    (p2o5,) = from_p2o5(column="P2O5", place=PLACE)
    (equivalent,) = computed_test(
        "bray-p1", "mehlich-3-icp", column="Bray eq", place=PLACE
    )

    assert (p2o5.severity, equivalent.severity) == ("warn", "warn")
    assert "divided by 2.2913" in p2o5.message
    assert "Bray P1 computed from Mehlich-3, read by ICP" in equivalent.message


@pytest.mark.parametrize(
    ("column", "declared", "said"),
    [
        (
            "P2O5 ppm",
            {"expressed": False, "computed": True},
            'P2O5 and not P: write expressed_as = "P2O5", or "P" if it is P all '
            "the "
            "same",
        ),
        (
            "Bray eq",
            {"expressed": True, "computed": False},
            "a test that was computed from another extract: write computed_from = the "
            "method that was run",
        ),
        # P2O5 is asked for first, then what it was computed from.
        (
            "P2O5 equiv",
            {"expressed": False, "computed": False},
            'P2O5 and not P: write expressed_as = "P2O5", or "P" if it is P all '
            "the "
            "same",
        ),
        (
            "P2O5 equiv",
            {"expressed": True, "computed": False},
            "a test that was computed from another extract: write computed_from = the "
            "method that was run",
        ),
        ("P2O5 ppm", {"expressed": True, "computed": False}, None),
        ("Bray eq", {"expressed": False, "computed": True}, None),
    ],
)
def test_column_name_is_told(column, declared, said):
    """What the name looks like and what to write; what is declared is not asked."""
    expected = [
        (
            "soil-test-column-name",
            "stop",
            PLACE,
            None,
            None,
            "",
            None,
            f"s.csv: column {column!r} is named like {said}",
        )
    ]
    found = whole(column_name(column, **declared, place=PLACE))

    assert found == ([] if said is None else expected)


def test_what_is_declared_is_told():
    """141.943 / 61.948 = 2.2913 by the atomic weights, and both methods by name."""
    p2o5 = from_p2o5(column="P2O5", place=PLACE)
    equivalent = computed_test(
        "bray-p1", "mehlich-3-icp", column="Bray eq", place=PLACE
    )

    nothing = (PLACE, None, None, "", None)
    assert whole((*p2o5, *equivalent)) == [
        (
            "soil-test-from-p2o5",
            "warn",
            *nothing,
            "s.csv: column 'P2O5' is P2O5 by the plan, so each value was divided by "
            "2.2913 to give P; the result is carried as converted",
        ),
        (
            "soil-test-equivalent",
            "warn",
            *nothing,
            "s.csv: column 'Bray eq' is Bray P1 computed from Mehlich-3, read by ICP "
            "by "
            "the laboratory, by a line that is not known here; it is carried as "
            "converted",
        ),
    ]


OF_OHIO = (
    "s.csv: soil tests are converted by bray-p1-from-mehlich-3-ohio (Bray P1 = "
    "(Mehlich-3, read by ICP) × 0.832 − 8.08 [ppm]; Ohio; from 10 ppm; no R² seen in "
    "print); a conversion is no calibration: its intercept takes more off a poor soil "
    "than off a rich one, and the poor soil decides the rate"
)


@pytest.mark.parametrize(
    ("ph", "severity", "said"),
    [
        ([6.0, 7.4, 7.0], "warn", ""),
        (
            [7.5, 7.4, 8.0],
            "stop",
            "; it is for soil with a pH up to 7.4, and 2 of 3 samples have another "
            "(rows 2, 4)",
        ),
        (
            [7.5, np.nan, 7.0],
            "stop",
            "; it is for soil with a pH up to 7.4, and 1 of 3 samples have another "
            "(row "
            "2); it is for soil with a pH up to 7.4, and 1 of 3 samples have none to "
            "check",
        ),
        (
            None,
            "warn",
            "; it is for soil with a pH up to 7.4, and 3 of 3 samples have none to "
            "check",
        ),
    ],
)
def test_conversion_is_told(ph, severity, said):
    """Line, region, range, caution, and the samples whose pH it is not for."""
    found = converted_test(conversions()[OHIO], ph, [2, 3, 4], place=PLACE)

    assert whole(found) == [
        (
            "soil-test-converted",
            severity,
            PLACE,
            None,
            None,
            "",
            None,
            f"{OF_OHIO}{said}",
        )
    ]


def test_conversion_for_any_soil_is_told():
    """A line without limits says that none were seen, and asks for no pH."""
    found = converted_test(conversions()[TO_MEHLICH], None, [2], place=PLACE)

    assert whole(found)[0][1:] == (
        "warn",
        PLACE,
        None,
        None,
        "",
        None,
        "s.csv: soil tests are converted by mehlich-3-from-bray-p1-ohio-indiana "
        "(Mehlich-3, read by ICP = Bray P1 × 1.35 [ppm]; Ohio and Indiana; no range "
        "seen "
        "in print; no R² seen in print); a conversion is no calibration: 25 ppm of "
        "Bray "
        "P1, the critical level for wheat in 1995, becomes 33.75 ppm by this line, "
        "while "
        "trials set it to 30 ppm of Mehlich-3",
    )
