"""What a room loads: doors open downwards, and the command starts light."""

import subprocess
import sys

import pytest

GEOMETRY = {"shapely", "geopandas", "pyogrio", "rasterio", "pyproj", "shapefile"}
HEAVY = GEOMETRY | {"numpy", "scipy", "pydantic", "rich", "tomlkit", "pandas"}


def loaded_by(statement):
    """Return the modules that a fresh interpreter holds after a statement."""
    code = f"import sys\n{statement}\nsys.stdout.write(chr(10) + ' '.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True
    )
    return set(done.stdout.splitlines()[-1].split())


def test_help_is_light():
    """Help loads no library of numbers, maps, checks or colours."""
    loaded = loaded_by(
        "from vrp.cli import main\nmain(['--help'], standalone_mode=False)"
    )

    assert "click" in loaded
    assert not loaded & HEAVY
    assert not {name for name in loaded if name.startswith("vrp.agronomy")}


def test_agronomy_knows_no_geometry():
    """Agronomy, with every guideline read, has loaded no library of maps."""
    loaded = loaded_by(
        "import vrp.agronomy.need, vrp.agronomy.plan_checks, vrp.agronomy.products\n"
        "from vrp.agronomy import guidelines, sample_checks\nguidelines.shipped()"
    )

    assert "vrp.agronomy.curve" in loaded
    assert not loaded & GEOMETRY
    assert not {name for name in loaded if name.startswith(("vrp.spatial", "vrp.io"))}


def test_spatial_knows_no_crops():
    """Spatial has loaded nothing of agronomy, nor what it needs only when called."""
    loaded = loaded_by(
        "import vrp.spatial.coverage, vrp.spatial.surface, vrp.spatial.zones"
    )

    assert "vrp.spatial.kriging" in loaded
    assert not {name for name in loaded if name.startswith("vrp.agronomy")}
    assert not loaded & {"geopandas", "pyogrio", "rasterio", "scipy", "rich"}


@pytest.mark.parametrize(
    ("room", "others"),
    [
        ("vrp.pipeline", ("vrp.io", "vrp.report", "vrp.job", "vrp.cli")),
        ("vrp.report.terminal", ("vrp.io", "vrp.pipeline", "vrp.job", "vrp.cli")),
        ("vrp.io.verify", ("vrp.pipeline", "vrp.report", "vrp.job", "vrp.cli")),
        ("vrp.rates", ("vrp.pipeline", "vrp.io", "vrp.report", "vrp.legend")),
        ("vrp.plan", ("vrp.agronomy", "vrp.spatial", "vrp.io", "vrp.prescription")),
        ("vrp.evidence", ("vrp.plan", "vrp.agronomy", "vrp.spatial")),
    ],
)
def test_rooms(room, others):
    """A room loads nothing from beside or above it."""
    loaded = loaded_by(f"import {room}")

    assert room in loaded
    assert not {name for name in loaded if name.startswith(others)}


def test_building_loads_no_screen_nor_tables():
    """The library builds a field without the terminal's and the tables' libraries."""
    loaded = loaded_by("import vrp.job")

    assert not loaded & {"geopandas", "pandas", "rasterio", "rich", "click", "tomlkit"}
