"""Lines from one soil test to another, against what is printed."""

import numpy as np
import pytest
from pydantic import ValidationError

from vrp.agronomy.conversion_checks import converted_test
from vrp.agronomy.conversions import (
    Bounds,
    Conversion,
    conversion,
    conversions,
    converted,
)
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.soil_test import METHODS
from vrp.errors import InputError
from vrp.evidence import Source

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
    ("bounds", "held", "said"),
    [
        ({"above": 5.0}, [False, False, True, True, True], "above 5"),
        ({"least": 5.0}, [False, True, True, True, True], "from 5"),
        (
            {"above": 6.0, "least": 5.0},
            [False, False, False, True, True],
            "above 6 from 5",
        ),
        ({"most": 6.0}, [True, True, True, False, True], "up to 6"),
        (
            {"above": 5.0, "most": 6.0},
            [False, False, True, False, True],
            "above 5 up to 6",
        ),
        (
            {"least": 5.0, "most": 6.0},
            [False, True, True, False, True],
            "from 5 up to 6",
        ),
    ],
)
def test_bounds(bounds, held, said):
    """Above leaves its end out, from and up to take theirs in; unknown is not held."""
    ours = {"source": Source("our-choice", "test")}
    one = Bounds(**bounds, **ours)

    assert one.hold([4.0, 5.0, 6.0, 6.1, np.nan]).tolist() == held
    assert str(one) == said


def line(**changed):
    """Return a line of the tests' own."""
    given = {
        "id": "own",
        "from_method": "olsen",
        "to_method": "bray-p1",
        "factor": 2.0,
        "unit": "ppm",
        "region": "nowhere",
        "source": Source("our-choice", "test"),
        "caution": "none",
    }
    return Conversion(**{**given, **changed})


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"from_method": "olsn"}, "'olsn' is no method, did you mean 'olsen'"),
        ({"to_method": "bray-1"}, "'bray-1' is no method, did you mean 'bray-p1'"),
        ({"divisor": 2.0}, "needs either factor or divisor"),
        ({"factor": None}, "needs either factor or divisor"),
    ],
)
def test_lines_that_are_none(changed, message):
    """A method that is not known, two slopes or none are refused."""
    with pytest.raises(ValidationError, match=f"Value error, {message} "):
        line(**changed)


@pytest.mark.parametrize(
    ("changed", "slope", "at", "arithmetic"),
    [
        # 10 × 2, 10 × 2 + 3, 10 × 2 − 3, 10 / 4 − 3.
        ({}, 2.0, 20.0, "10 × 2"),
        ({"intercept": 3.0}, 2.0, 23.0, "10 × 2 + 3"),
        ({"intercept": 0.5}, 2.0, 20.5, "10 × 2 + 0.5"),
        ({"intercept": -3.0}, 2.0, 17.0, "10 × 2 − 3"),
        (
            {"factor": None, "divisor": 4.0, "intercept": -3.0},
            0.25,
            -0.5,
            "10 / 4 − 3",
        ),
    ],
)
def test_line_by_hand(changed, slope, at, arithmetic):
    """A line is multiplied or divided as it is printed, then its intercept added."""
    one = line(**changed)

    assert (one.slope, one.at([10.0]).tolist()) == (slope, [at])
    assert one.arithmetic(10.0) == arithmetic


def test_limits_of_a_line():
    """Range and R² stand beside the region where they were printed."""
    held = Bounds(least=5.0, most=60.0, source=Source("our-choice", "test"))

    assert line(range=held, r2=0.83).limits == "nowhere; from 5 up to 60 ppm; R² 0.83"


def test_refusal_in_a_sentence():
    """Row, value, range, arithmetic and remedy: 9 × 0.832 − 8.08 = −0.592."""
    with pytest.raises(InputError) as refused:
        converted([40.0, 9.0], conversions()[OHIO], rows=[2, 3], place=PLACE)

    assert str(refused.value) == (
        "s.csv row 3: 9 ppm by Mehlich-3, read by ICP is outside the range of "
        "'bray-p1-from-mehlich-3-ohio', which holds from 10 ppm (9 × 0.832 − 8.08 = "
        "-0.592): choose a guideline made for mehlich-3-icp, or have the soil tested "
        "by "
        "Bray P1"
    )


def test_nothing_is_no_result():
    """A line without a range is refused where it gives nothing: 0 × 2 = 0."""
    with pytest.raises(InputError) as refused:
        converted([0.0, 0.0, 7.0], line(), rows=[2, 3, 4], place=PLACE)

    assert str(refused.value) == (
        "s.csv row 2 (and 1 more): 0 ppm by Olsen (sodium bicarbonate) is outside the "
        "range of 'own', which holds where it gives more than 0 (0 × 2 = 0): choose a "
        "guideline made for olsen, or have the soil tested by Bray P1"
    )
    assert converted([0.25], line(), rows=[2], place=PLACE).tolist() == [0.5]


def test_nothing_is_no_result_within_the_range_either():
    """3 × 2 − 10 = −4 is no phosphorus, though the range begins at 1."""
    held = Bounds(least=1.0, source=Source("our-choice", "test"))
    one = line(intercept=-10.0, range=held)

    with pytest.raises(InputError, match=r"holds from 1 ppm \(3 × 2 − 10 = -4\)"):
        converted([3.0, 40.0], one, rows=[2, 3], place=PLACE)


@pytest.mark.parametrize(
    ("name", "method", "message"),
    [
        (
            "bray-p1-from-mehlich3-ohio",
            "mehlich-3-icp",
            "convert 'bray-p1-from-mehlich3-ohio' is no conversion, did you mean "
            f"'{OHIO}'; from mehlich-3-icp there are {OHIO}, {OLD}, {IDAHO}",
        ),
        (
            OHIO,
            "bray-p1",
            f"convert '{OHIO}' is from mehlich-3-icp; from bray-p1 there are "
            f"{TO_MEHLICH}",
        ),
        (
            OHIO,
            "olsen",
            f"convert '{OHIO}' is from mehlich-3-icp; from olsen there is none",
        ),
    ],
)
def test_unknown_in_a_sentence(name, method, message):
    """What there is from the method at hand is listed."""
    with pytest.raises(InputError) as refused:
        conversion(name, method=method)

    assert str(refused.value) == message
