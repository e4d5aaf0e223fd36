"""Curves in the characters of a terminal."""

import io

import pytest

from vrp.report import text_curve

# Falls from 100 to 50 at 20, level to 40, then 0 to 60.
LINE = (((0.0, 100.0), (20.0, 50.0), (40.0, 50.0)), ((40.0, 0.0), (60.0, 0.0)))


def drawn(*curves, marks=("",), encoding="utf-8"):
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    text_curve.draw(curves, marks, file=file)
    file.flush()
    return raw.getvalue().decode(encoding).splitlines()


def column(lines, soil_test):
    """Return where a soil test stands, by the marks of the axis."""
    axis, names = lines[-2], lines[-1]
    name = f" {soil_test} "
    middle = f"{names} ".index(name) + 1 + len(str(soil_test)) // 2
    return next(at for at in range(middle - 1, middle + 2) if axis[at] in "┴+")


def height(lines, at, *, of="─•-*ab"):
    """Return the row in which a curve stands in a column, counted from the axis."""
    rows = [row for row, line in enumerate(lines[-3::-1]) if line[at : at + 1] in of]
    return [row for row in rows if lines[-3 - row][at : at + 1]]


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_curve_stands_where_it_should(encoding):
    """Of eleven rows from 0 to 100, 100 is the tenth, 50 the fifth, 0 the lowest."""
    lines = drawn(LINE, encoding=encoding)

    assert lines[0].split()[0] == "100"
    assert height(lines, column(lines, 10)) in ([7], [8])
    assert height(lines, column(lines, 30)) == [5]
    assert height(lines, column(lines, 50)) == [0]


def test_levels_are_exact():
    """A need of 170 stands above the row of 150, not in it, and below that of 200."""
    lines = drawn((((0.0, 170.0), (50.0, 170.0)),))
    (row,) = [at for at, line in enumerate(lines) if "──────" in line and "│" in line]

    named = {line.split()[0]: at for at, line in enumerate(lines) if line[:7].strip()}
    assert named["200"] < row < named["150"]


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_steps_are_drawn(encoding):
    """Between the two needs of a step stand the marks of a step, in one column."""
    lines = drawn(LINE, encoding=encoding)
    step = "┊" if encoding == "utf-8" else ":"

    places = {line.index(step) for line in lines if step in line}

    assert len(places) == 1
    assert abs(places.pop() - column(lines, 40)) <= 1
    assert sum(step in line for line in lines) == 4


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_width(encoding):
    """No line is wider than 80, and a terminal gets characters that it has."""
    lines = drawn(LINE, encoding=encoding)

    assert max(map(len, lines)) <= 80
    assert "\\u" not in "".join(lines)
    assert "•" not in "".join(lines) or encoding == "utf-8"


def test_several_curves_have_letters():
    """Of two curves each has its letter; where they meet the first is seen."""
    higher = (((0.0, 80.0), (40.0, 80.0)), ((40.0, 0.0), (60.0, 0.0)))
    lines = drawn(LINE, higher, marks=("a", "b"))

    assert height(lines, column(lines, 30), of="a") == [5]
    assert height(lines, column(lines, 30), of="b") == [8]
    assert height(lines, column(lines, 50), of="a") == [0]
    assert height(lines, column(lines, 50), of="b") == []


def test_no_need_at_all():
    """A curve that is 0 everywhere is drawn on the axis."""
    lines = drawn((((0.0, 0.0), (50.0, 0.0)),))

    assert height(lines, column(lines, 20)) == [0]
