"""The page about zones: its example is read, its figures are those that are used."""

import re
from pathlib import Path

import pytest

from vrp.io.field_file import read_field_file
from vrp.pipeline import classing
from vrp.spatial import bands, clusters, layer_values, widths

DOCS = Path(__file__).parents[1] / "docs"
PAGE = " ".join((DOCS / "zones.md").read_text("utf-8").split())


def test_example_is_read(tmp_path):
    """The layers of the page stand in a field file as they are."""
    least = re.findall(
        r"```toml\n(units = .*?)```",
        (DOCS / "field_file.md").read_text("utf-8"),
        flags=re.DOTALL,
    )[0]
    (shown,) = re.findall(
        r"```toml\n(\[zones\].*?)```",
        (DOCS / "zones.md").read_text("utf-8"),
        flags=re.DOTALL,
    )
    path = tmp_path / "field.toml"
    path.write_text(f"{least}\n{shown}", "utf-8")

    zones = read_field_file(path).plan.zones
    assert (zones.by, zones.count) == ("layers", 3)
    assert [one.weight for one in zones.layers] == [1.0, 0.5, 1.0]
    assert zones.layers[0].file == tmp_path / "heights.tif"
    assert zones.layers[2].soil_test


@pytest.mark.parametrize(
    "sentence",
    [
        f"saves {classing.WORTH:g} lb or kg of P2O5 an acre or hectare",
        f"no number of further ones, up to {classing.MOST_BANDS},",
        f"with over {classing.MOST_SHAPED:,} cells, for time's sake, before",
        f"More than {bands.MOST_STEPS} different needs are put on a lattice",
        "four rounds at most",
        f"more than {100 * classing.MOST_MISSING:g} % refused (our choice)",
        f"up to {layer_values.FINEST} × {layer_values.FINEST} places in the cell",
        f"less the lowest and highest {100 * clusters.TAIL:g} % of the values",
        f"the best of {clusters.STARTS} starts from `zones.seed`",
        f"more than {clusters.MOST_FITTED:,} cells are fitted to as many drawn ones",
        f"mean over {clusters.MOST_COMPARED:,} cells",
        f"table for {classing.COMPARED[0]} to {classing.COMPARED[-1]} clusters",
    ],
)
def test_figures_are_those_used(sentence):
    """What the page says of limits of ours is what the code holds."""
    assert widths.ROUNDS == 4
    assert sentence in PAGE
