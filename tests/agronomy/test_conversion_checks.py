"""What is said of soil tests that are not the laboratory's own figures."""

from dataclasses import astuple

import numpy as np
import pytest

from vrp.agronomy.conversion_checks import (
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
