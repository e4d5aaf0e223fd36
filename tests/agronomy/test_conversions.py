"""Lines from one soil test to another, against what is printed."""

import numpy as np
import pytest

from vrp.agronomy.conversion_checks import (
    column_name,
    computed_test,
    converted_test,
    from_p2o5,
)
from vrp.agronomy.conversions import conversion, conversions, converted
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.soil_test import METHODS
from vrp.errors import InputError

OHIO = "bray-p1-from-mehlich-3-ohio"
TO_MEHLICH = "mehlich-3-from-bray-p1-ohio-indiana"
OLD = "bray-p1-from-mehlich-3-one-laboratory"
IDAHO = "olsen-from-mehlich-3-idaho"
PLACE = "s.csv"


def convert(value, name):
    return converted([value], conversions()[name], rows=[5], place=PLACE)[0]


@pytest.mark.parametrize(
    ("name", "value", "printed", "tolerance"),
    [
        # "Understanding soil test reports", Ohio State University: 22 ppm is 10 ppm.
        (OHIO, 22.0, 10.0, 0.5),
        # Critical levels for corn in Ohio: 15 ppm of Bray P1 (1995), 20 of Mehlich-3.
        (TO_MEHLICH, 15.0, 20.0, 0.5),
        # A laboratory's formula: (30 × 0.7) × 2 = 42 lb/ac of Bray P1, by hand.
        (OLD, 30.0, 42.0 / 2.0, 1e-9),
        # 41 / 2.05 − 14 = 6, by hand.
        (IDAHO, 41.0, 6.0, 1e-9),
    ],
)
def test_printed_pairs(name, value, printed, tolerance):
    """Each line gives the pairs that are printed for it, or its own arithmetic."""
    assert convert(value, name) == pytest.approx(printed, abs=tolerance)


def test_conversion_is_no_calibration():
    """25 ppm of Bray P1 become 33.75 ppm, while trials set the level at 30."""
    wheat = shipped()["tri-state-2020"].crops["wheat"].critical.value

    assert convert(25.0, TO_MEHLICH) == pytest.approx(33.75)
    assert wheat == 30.0
    (found,) = converted_test(conversions()[TO_MEHLICH], None, [2], place=PLACE)
    assert "33.75" in found.message
    assert "30 ppm" in found.message


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        (IDAHO, 28.0, r"^s.csv row 5: 28 ppm by .* above 28.7 ppm .*14 = -0.3415"),
        (IDAHO, 28.7, r"above 28.7 ppm"),
        (OHIO, 9.99, r"holds from 10 ppm"),
        (OHIO, 9.0, r"holds from 10 ppm .*= -0.592\): choose a guideline made for meh"),
        (OLD, 0.0, r"where it gives more than 0"),
        (TO_MEHLICH, 0.0, r"have the soil tested by Mehlich-3"),
    ],
)
def test_refused(name, value, message):
    """Outside its range, or where it gives nothing or less, a line is refused."""
    with pytest.raises(InputError, match=message):
        convert(value, name)


def test_first_row_is_named_and_the_others_counted():
    """A refusal names the first row and how many more there are."""
    line = conversions()[IDAHO]
    with pytest.raises(InputError, match=r"^s.csv row 3 \(and 1 more\): 12 ppm"):
        converted([40.0, 12.0, 60.0, 8.0], line, rows=[2, 3, 4, 5], place=PLACE)


def test_range_begins_where_it_says():
    """10 ppm is in the range for Ohio: 0.832 × 10 − 8.08 = 0.24."""
    assert convert(10.0, OHIO) == pytest.approx(0.24)


def test_every_line_is_cited():
    """Each line names both methods, its region and its source; none claims an R²."""
    for name, line in conversions().items():
        assert line.id == name
        assert {line.from_method, line.to_method} <= set(METHODS)
        assert line.source.status == "read"
        assert line.region
        assert line.r2 is None
        assert line.limits.endswith("no R² seen in print")


@pytest.mark.parametrize(
    ("name", "method", "message"),
    [
        ("bray-p1-from-mehlich3-ohio", "mehlich-3-icp", f"did you mean '{OHIO}'"),
        (OHIO, "olsen", "is from mehlich-3-icp; from olsen there is none"),
        (TO_MEHLICH, "mehlich-3-icp", f"is from bray-p1; .* {OHIO}, {OLD}, {IDAHO}"),
    ],
)
def test_unknown(name, method, message):
    """A line that is not known, or is from another method, is refused."""
    with pytest.raises(InputError, match=message):
        conversion(name, method=method)


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
