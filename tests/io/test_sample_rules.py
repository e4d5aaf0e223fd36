"""Keys of [samples] that contradict each other."""

import pytest

from vrp.errors import InputError
from vrp.io.field_file import read_field_file

BRAY = ('method = "mehlich-3-icp"', 'method = "bray-p1"')


def added(*lines):
    return ("[samples]", "\n".join(["[samples]", *lines]))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ([("x = ", "# x = ")], "samples.x and samples.y go together"),
        ([added('points = "p.csv"')], "samples.points needs samples.id"),
        ([added('ph = "P"')], "column 'P' cannot be soil_test and ph"),
        ([BRAY, added('bray_p2 = "P"')], "column 'P' cannot be soil_test and"),
        ([added('depth_from = "f"')], "depth_from and samples.depth_to go together"),
        ([added('depth_to = "t"')], "depth_from and samples.depth_to go together"),
        (
            [added('depth_from = "f"', 'depth_to = "t"')],
            "samples.depth_from needs samples.id, the column that joins the layers",
        ),
        (
            [added('bray_p2 = "P2"')],
            "it needs method = \"bray-p1\", not 'mehlich-3-icp'",
        ),
        (
            [BRAY, added('bray_p2 = "P2"', 'computed_from = "mehlich-3-icp"')],
            "stands beside a measured Bray P1",
        ),
        (
            [added('computed_from = "mehlich-3-icp"')],
            "samples.computed_from is the method itself: method is what the numbers "
            "count as, such as bray-p1, and computed_from what was run",
        ),
        (
            [
                BRAY,
                added(
                    'convert = "mehlich-3-from-bray-p1-ohio-indiana"',
                    'computed_from = "olsen"',
                ),
            ],
            "samples.convert cannot follow computed_from",
        ),
        (
            [
                ('unit = "ppm"', 'unit = "mg/L"'),
                added('convert = "bray-p1-from-mehlich-3-ohio"'),
            ],
            "samples.convert needs a soil test by mass, and mg/L is by volume",
        ),
        (
            [added('convert = "bray-from-mehlich-3-ohio"')],
            "samples.convert 'bray-from-mehlich-3-ohio' is no conversion, did you mean",
        ),
        (
            [BRAY, added('convert = "bray-p1-from-mehlich-3-ohio"')],
            "'bray-p1-from-mehlich-3-ohio' is from mehlich-3-icp; from bray-p1 there",
        ),
        ([added('expressed_as = "P2O3"')], "samples.expressed_as = 'P2O3': use one"),
        ([added('computed_from = "mehlich"')], "samples.computed_from = 'mehlich'"),
    ],
)
def test_contradictions(ground, changes, message):
    """Keys that do not go together are refused in a sentence that names them."""
    ground.change(*changes)

    with pytest.raises(InputError, match=f"^field.toml: .*{message}"):
        read_field_file(ground.write())


def test_what_goes_together(ground):
    """Layers, strong Bray and a conversion from Bray P1 may stand together."""
    line = "mehlich-3-from-bray-p1-ohio-indiana"
    ground.change(
        BRAY,
        added(
            'id = "core"',
            'depth_from = "f"',
            'depth_to = "t"',
            'bray_p2 = "P2"',
            f'convert = "{line}"',
        ),
    )

    samples = read_field_file(ground.write()).plan.samples

    assert (samples.method, samples.counted_method) == ("bray-p1", "mehlich-3-icp")
    assert (samples.bray_p2, samples.convert) == ("P2", line)
