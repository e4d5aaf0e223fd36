"""Fields that several tests build."""

import json
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import settings
from pyproj import Transformer

from vrp.plan import Plan

# Scripts: benchmarks are run by hand, the other by the Python of QGIS.
collect_ignore = ["benchmarks", "io/qgis_report.py"]

# The same examples on every run; HYPOTHESIS_PROFILE=default draws new ones.
settings.register_profile("same", derandomize=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))

# A plane to draw on, metres about an arbitrary place.
PLANE = "+proj=tmerc +lat_0=40.6 +lon_0=-84.3 +k=1 +datum=WGS84 +units=m"

# The figures of a published guideline in a file of the tests' own: mending the
# published one fails the tests that cite it, not those that only need some guideline.
GUIDELINE = Path(__file__).parent / "data" / "guidelines" / "tri-state-2020.toml"

FIELD = """
units = "us"
boundary = "boundary.geojson"

[field]
name = "Test Ground"
year = 2027

[samples]
file = "samples.csv"
x = "x"
y = "y"
crs = "{plane}"
soil_test = "P"
method = "mehlich-3-icp"
unit = "ppm"
depth = 8
sampled = 2026-10-02

[[season]]
crop = "corn-grain"
yield_goal = 200
[[season]]
crop = "soybean"
yield_goal = 60

[need]
guideline = "tri-state-2020"

[product]
grade = "11-52-0"

[machine]
min_rate = 50
max_rate = 400
step = 5
""".replace("{plane}", PLANE)


def to_lonlat(geometry):
    """Return a geometry of the plane in longitude, latitude."""
    transform = Transformer.from_crs(PLANE, "EPSG:4326", always_xy=True).transform
    return shapely.transform(geometry, transform, interleaved=False)


def write_polygons(path, polygons, properties=None):
    """Write polygons of the plane as GeoJSON."""
    features = [
        {
            "type": "Feature",
            "properties": each,
            "geometry": json.loads(shapely.to_geojson(to_lonlat(polygon))),
        }
        for polygon, each in zip(
            polygons, properties or [{}] * len(polygons), strict=True
        )
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))


class Ground:
    """A folder with a field file, a boundary and samples that tests may change."""

    to_lonlat = staticmethod(to_lonlat)

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / "field.toml"
        self.text = FIELD
        self.outline = shapely.box(0.0, 0.0, 480.0, 480.0)
        side = np.arange(30.0, 480.0, 60.0)
        x, y = (each.ravel() for each in np.meshgrid(side, side))
        # Smooth from 8 in the south-west to 52 in the north-east, and a little rough.
        rough = np.tile([1.0, -1.0, 0.5, -0.5], len(x) // 4)
        self.samples = np.column_stack([x, y, 8.0 + (x + y) / 20.5 + rough])

    def write_polygons(self, name, polygons, properties=None):
        """Write polygons of the plane as GeoJSON beside the field file."""
        write_polygons(self.folder / name, polygons, properties)

    def write(self) -> Path:
        """Write the files and return the field file."""
        write_polygons(self.folder / "boundary.geojson", [self.outline])
        rows = ["x,y,P"]
        rows += [f"{x:.1f},{y:.1f},{p:.1f}" for x, y, p in self.samples]
        (self.folder / "samples.csv").write_text("\n".join(rows) + "\n")
        named = f'guideline = "{GUIDELINE.as_posix()}"'
        self.path.write_text(self.text.replace('guideline = "tri-state-2020"', named))
        return self.path

    def change(self, *pairs: tuple[str, str]) -> None:
        """Change the field file's text; each old text must be there."""
        for old, new in pairs:
            assert old in self.text
            self.text = self.text.replace(old, new)


@pytest.fixture
def ground(tmp_path):
    """Return a square field of 23 ha with 64 samples that rise to the north-east."""
    return Ground(tmp_path)


@pytest.fixture(scope="session")
def sample_fields():
    """Return the folder of the sample fields."""
    folder = Path(__file__).parents[1] / "sample_fields"
    assert tomllib.loads((folder / "us" / "field.toml").read_text())["units"] == "us"
    return folder


@pytest.fixture(scope="session")
def plan():
    """Return a function that gives the least plan, and what a test adds to it."""

    def least(**tables):
        return Plan(
            **{
                "units": "us",
                "boundary": "b.geojson",
                "field": {"name": "Test"},
                "samples": {
                    "file": "s.csv",
                    "soil_test": "P",
                    "method": "mehlich-3-icp",
                    "unit": "ppm",
                    "depth": 8,
                },
                "season": ({"crop": "corn-grain", "yield_goal": 200},),
                "product": {"grade": "11-52-0"},
            }
            | tables
        )

    return least
