"""
Draws the sample fields: invented ground, invented soil, drawn anew alike every time.

The soil test P of a real field is skewed, varies within a few metres about as much as
it does across a hundred, and is high where a farmyard once stood. `simulate` draws such
a surface, `composites` samples it as a person with a probe and a laboratory would, and
`write` puts both into a folder as files that vrp reads.

    python sample_fields/make.py [FOLDER] [--seed N] [--truth]
"""

import argparse
import csv
import io
import json
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapefile
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from pyproj import CRS, Transformer

Array = NDArray[np.float64]

CELL = 5.0  # side of a cell of the drawn surface [m]
TRUTH_CELL = 10.0  # side of a cell of the surface as written [m]
# Short-range variation is gone well before the next sample, so that it is all nugget.
SHORT_RANGE = 30.0  # [m]
HEADLAND = 8.0  # no sample is nearer to the boundary [m]

# The layered field: two layers of each core, and how they differ.
LAYER_BOUNDS = (0.0, 2.0, 7.0)  # [in]
TOP_OVER_MEAN = 1.7
STRONG_OVER_WEAK = 1.9
LIMY_RADIUS = 150.0  # [m]


@dataclass(frozen=True, slots=True)
class Soil:
    """
    What soil test P is like in a field, and how it is sampled.

    `mean` [unit of the test] and `cv` are those of the field without its hot spot;
    `nugget_share` is the share of the samples' variance (of logarithms) that has no
    range: short-range variation, what is left between cores, and the laboratory's
    error; `hot_factor` is how many times richer the middle of the hot spot is.
    """

    mean: float
    cv: float = 0.48
    nugget_share: float = 0.4
    range_m: float = 180.0
    hot_factor: float = 4.0
    hot_radius: float = 45.0
    cores: int = 8
    core_radius: float = 4.5
    core_cv: float = 0.25
    lab_cv: float = 0.08

    @property
    def variance(self) -> float:
        """Variance of the logarithm of a sample."""
        return float(np.log1p(self.cv**2))

    @property
    def sampling_variance(self) -> float:
        """Variance of the logarithm that a composite adds to the ground below it."""
        return float(np.log1p(self.core_cv**2 / self.cores) + np.log1p(self.lab_cv**2))


@dataclass(frozen=True, slots=True)
class Surface:
    """Soil test P on square cells, rows from north to south; metres as the outline."""

    west: float
    north: float
    cell: float
    value: Array

    def at(self, xy: Array) -> Array:
        """Return the value of the cell below each place, shape (n, 2) [m]."""
        column = np.floor((xy[:, 0] - self.west) / self.cell).astype(int)
        row = np.floor((self.north - xy[:, 1]) / self.cell).astype(int)
        return self.value[row, column]

    @property
    def xy(self) -> Array:
        """Centres of the cells, row by row, shape (rows × columns, 2) [m]."""
        rows, columns = self.value.shape
        x = self.west + (np.arange(columns) + 0.5) * self.cell
        y = self.north - (np.arange(rows) + 0.5) * self.cell
        return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)

    def coarser(self, times: int) -> "Surface":
        """Return the means of blocks of `times` × `times` cells."""
        rows, columns = (length // times for length in self.value.shape)
        blocks = self.value[: rows * times, : columns * times]
        mean = blocks.reshape(rows, times, columns, times).mean(axis=(1, 3))
        return Surface(self.west, self.north, self.cell * times, mean)


@dataclass(frozen=True, slots=True)
class Scene:
    """An invented field: its ground [m] about an arbitrary place, and its soil."""

    name: str
    lon: float
    lat: float
    outline: shapely.MultiPolygon
    spacing: float
    soil: Soil
    decimals: int
    ph: float
    organic_matter: float
    seed: int

    @property
    def crs(self) -> CRS:
        """The CRS of `outline`."""
        return CRS.from_proj4(
            f"+proj=tmerc +lat_0={self.lat} +lon_0={self.lon} +k=1 +x_0=0 +y_0=0 "
            "+datum=WGS84 +units=m +no_defs +type=crs"
        )


@dataclass(frozen=True, slots=True)
class Sampled:
    """What is known of a scene: the truth, and what the laboratory says of it."""

    truth: Surface
    xy: Array
    soil_test: Array
    ph: Array
    organic_matter: Array


def simulate(
    outline: shapely.MultiPolygon, *, soil: Soil, generator: Generator
) -> Surface:
    """Return a surface that covers an outline [m], with one hot spot inside it."""
    west, south, east, north = outline.bounds
    # Composites reach over the bounds by no more than a cell.
    west, north = west - CELL, north + CELL
    columns = int(np.ceil((east + CELL - west) / CELL))
    rows = int(np.ceil((north + CELL - south) / CELL))
    long_variance = (1.0 - soil.nugget_share) * soil.variance
    short_variance = soil.nugget_share * soil.variance - soil.sampling_variance
    if short_variance < 0.0:
        raise ValueError(f"nugget_share {soil.nugget_share:g} is below sampling's own")
    log = np.sqrt(long_variance) * _smooth((rows, columns), soil.range_m, generator)
    log += np.sqrt(short_variance) * _smooth((rows, columns), SHORT_RANGE, generator)
    log += np.log(soil.mean) - (long_variance + short_variance) / 2.0
    surface = Surface(west, north, CELL, log)
    middle = _somewhere(outline, 2.0 * soil.hot_radius, generator)
    squares = np.sum((surface.xy - middle) ** 2, axis=1).reshape(log.shape)
    bump = np.exp(-squares / (2.0 * soil.hot_radius**2))
    return Surface(west, north, CELL, np.exp(log + np.log(soil.hot_factor) * bump))


def positions(
    outline: shapely.MultiPolygon,
    *,
    spacing: float,
    offset: float,
    generator: Generator,
) -> Array:
    """Return places on a square grid, each off its node by up to `offset` [m]."""
    west, south, east, north = outline.bounds
    x = np.arange(west + spacing / 2.0, east, spacing)
    y = np.arange(north - spacing / 2.0, south, -spacing)
    nodes = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    places = nodes + generator.uniform(-offset, offset, nodes.shape)
    inside = shapely.contains_xy(outline.buffer(-HEADLAND), places)
    return np.asarray(places[inside], dtype=np.float64)


def composites(
    surface: Surface, xy: Array, *, soil: Soil, generator: Generator
) -> Array:
    """Return what the laboratory reports for a composite of cores about each place."""
    shape = (len(xy), soil.cores)
    radius = soil.core_radius * np.sqrt(generator.uniform(size=shape))
    angle = generator.uniform(0.0, 2.0 * np.pi, shape)
    away = np.stack((radius * np.cos(angle), radius * np.sin(angle)), axis=-1)
    ground = surface.at((xy[:, None] + away).reshape(-1, 2)).reshape(shape)
    sd = np.sqrt(np.log1p(soil.core_cv**2))
    cores = ground * np.exp(sd * generator.standard_normal(shape) - sd**2 / 2.0)
    sd = np.sqrt(np.log1p(soil.lab_cv**2))
    error = np.exp(sd * generator.standard_normal(len(xy)) - sd**2 / 2.0)
    return np.asarray(cores.mean(axis=1) * error, dtype=np.float64)


def draw(scene: Scene, *, seed: int) -> Sampled:
    """Return a scene's soil and samples; another seed, another soil."""
    generator = np.random.default_rng(seed)
    truth = simulate(scene.outline, soil=scene.soil, generator=generator)
    xy = positions(
        scene.outline, spacing=scene.spacing, offset=6.0, generator=generator
    )
    soil_test = composites(truth, xy, soil=scene.soil, generator=generator)

    def other(mean: float, sd: float) -> Array:
        smooth = _smooth(truth.value.shape, scene.soil.range_m, generator)
        surface = Surface(truth.west, truth.north, CELL, mean + sd * smooth)
        noise = generator.standard_normal(len(xy))
        return np.round(surface.at(xy) + 0.3 * sd * noise, 1)

    ph, organic_matter = other(scene.ph, 0.3), other(scene.organic_matter, 0.5)
    rounded = np.round(soil_test, scene.decimals)
    return Sampled(truth, xy, rounded, ph, organic_matter)


@dataclass(frozen=True, slots=True)
class Layers:
    """What the laboratory says of two layers at each place, shape (n, 2), top first."""

    weak: Array
    strong: Array
    ph: Array
    organic_matter: Array


def layered(scene: Scene, sampled: Sampled, *, seed: int) -> Layers:
    """
    Return the two layers of ground that was not tilled for years.

    What is spread stays near the surface, so the top reads higher than the mean of the
    core. In one corner lime binds the phosphorus: only the weak Bray test falls there.
    """
    generator = np.random.default_rng([seed, 2])
    count = len(sampled.xy)
    top, whole = LAYER_BOUNDS[1], LAYER_BOUNDS[-1]
    _, south, east, _ = scene.outline.bounds
    away = np.hypot(sampled.xy[:, 0] - east, sampled.xy[:, 1] - south)
    limy = np.clip(1.5 - away / LIMY_RADIUS, 0.0, 1.0)
    ratio = TOP_OVER_MEAN * np.exp(0.15 * generator.standard_normal(count))
    mean = sampled.soil_test * (1.0 - 0.55 * limy)
    below = (whole - top * ratio) / (whole - top)
    weak = np.column_stack([mean * ratio, mean * np.maximum(below, 0.2)])
    reserve = STRONG_OVER_WEAK * np.exp(0.12 * generator.standard_normal(count))
    # Lime takes from the weak test alone.
    strong = weak / (1.0 - 0.55 * limy[:, None]) * reserve[:, None]
    ph = sampled.ph[:, None] + limy[:, None] * 1.2 + np.array([-0.2, 0.1])
    organic = sampled.organic_matter[:, None] + np.array([0.9, -0.3])
    return Layers(
        np.maximum(np.round(weak), 1.0),
        np.round(strong),
        np.round(ph, 1),
        np.round(organic, 1),
    )


def write(directory: Path, scene: Scene, *, seed: int, truth: bool = False) -> Path:
    """Write a scene's files into a folder, with the true surface if asked for."""
    directory.mkdir(parents=True, exist_ok=True)
    sampled = draw(scene, seed=seed)
    _write_boundary(directory / "boundary.geojson", scene)
    if scene.name == "layers":
        layers = layered(scene, sampled, seed=seed)
        _write_layers(directory / "samples.csv", scene, sampled.xy, layers)
    else:
        _write_samples(directory, scene, sampled)
    # The field file is written by hand and is the same for every seed.
    field_file = Path(__file__).parent / scene.name / "field.toml"
    (directory / "field.toml").write_bytes(field_file.read_bytes())
    if scene.name == "creek":
        _write_water(directory / "water.geojson", scene)
        _write_heights(directory / "heights.tif", scene, seed=seed)
    if truth:
        _write_truth(directory / "truth.csv", scene, sampled.truth)
    return directory


def _smooth(shape: tuple[int, int], range_m: float, generator: Generator) -> Array:
    """Return normal deviates with a spherical variogram of sill 1, without nugget."""
    # On a torus wider than the field by the range, opposite edges are unrelated.
    pad = int(np.ceil(range_m / CELL))
    size = (_even(shape[0] + pad, pad), _even(shape[1] + pad, pad))
    white = generator.standard_normal(size)
    waves = np.sqrt(_spectrum(size, range_m)) * np.fft.fft2(white)
    drawn = np.fft.ifft2(waves).real
    return np.asarray(drawn[: shape[0], : shape[1]], dtype=np.float64)


def _even(length: int, pad: int) -> int:
    return 32 * int(np.ceil(max(length, 2 * pad) / 32))


@lru_cache(maxsize=16)
def _spectrum(size: tuple[int, int], range_m: float) -> Array:
    """Return the spectrum of a spherical covariance; it is the same for every seed."""
    row, column = (np.minimum(np.arange(n), n - np.arange(n)) * CELL for n in size)
    apart = np.minimum(np.hypot(row[:, None], column) / range_m, 1.0)
    covariance = 1.0 - 1.5 * apart + 0.5 * apart**3
    # Rounding leaves some of it below 0 by 1e-13.
    return np.maximum(np.fft.fft2(covariance).real, 0.0)


def _somewhere(
    outline: shapely.MultiPolygon, margin: float, generator: Generator
) -> Array:
    """Return a place inside an outline, `margin` [m] from its edge."""
    inside = outline.buffer(-margin)
    west, south, east, north = inside.bounds
    while True:
        x, y = generator.uniform((west, south), (east, north))
        if shapely.contains_xy(inside, x, y):
            return np.array([x, y])


def _lonlat(scene: Scene, xy: Array) -> Array:
    transformer = Transformer.from_crs(scene.crs, "EPSG:4326", always_xy=True)
    return np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))


def _write_boundary(path: Path, scene: Scene) -> None:
    features = []
    for part in scene.outline.geoms:
        rings = [part.exterior, *part.interiors]
        coordinates = [
            np.round(_lonlat(scene, shapely.get_coordinates(ring)), 7).tolist()
            for ring in rings
        ]
        geometry = {"type": "Polygon", "coordinates": coordinates}
        features.append({"type": "Feature", "properties": {}, "geometry": geometry})
    lines = ",\n".join(json.dumps(feature) for feature in features)
    text = f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'
    path.write_bytes(text.encode())


def _write_samples(directory: Path, scene: Scene, sampled: Sampled) -> None:
    numbers = range(1, len(sampled.xy) + 1)
    lonlat = _lonlat(scene, sampled.xy)
    results = [
        (f"{test:.{scene.decimals}f}", f"{ph:.1f}", f"{organic_matter:.1f}")
        for test, ph, organic_matter in zip(
            sampled.soil_test, sampled.ph, sampled.organic_matter, strict=True
        )
    ]
    if scene.name in {"us", "creek"}:
        head = ("sample", "lon", "lat", "P", "pH", "OM")
        places = [(f"{lon:.6f}", f"{lat:.6f}") for lon, lat in lonlat]
        letter = scene.name[0].upper() if scene.name == "creek" else "H"
        ids = [f"{letter}{number}" for number in numbers]
        rows = [(i, *p, *r) for i, p, r in zip(ids, places, results, strict=True)]
        _write_csv(directory / "samples.csv", [head, *rows])
        return
    head = ("sample", "Olsen P mg/L", "pH", "OM %")
    ids = [f"L{number:03d}" for number in numbers]
    # The laboratory reports in the order of its own bench.
    bench = np.random.default_rng(len(ids)).permutation(len(ids))
    _write_csv(
        directory / "results.csv", [head, *((ids[i], *results[i]) for i in bench)]
    )
    _write_points(directory / "positions", ids, lonlat)


def _write_layers(path: Path, scene: Scene, xy: Array, layers: Layers) -> None:
    """Write a row for each layer of each core, as the laboratory's sheet has them."""
    rows = [("core", "lon", "lat", "from in", "to in", "P1", "P2", "pH", "OM")]
    for index, (lon, lat) in enumerate(_lonlat(scene, xy)):
        for layer, (top, bottom) in enumerate(pairwise(LAYER_BOUNDS)):
            at = (index, layer)
            rows.append(
                (
                    f"K{index + 1}",
                    f"{lon:.6f}",
                    f"{lat:.6f}",
                    f"{top:g}",
                    f"{bottom:g}",
                    f"{layers.weak[at]:.0f}",
                    f"{layers.strong[at]:.0f}",
                    f"{layers.ph[at]:.1f}",
                    f"{layers.organic_matter[at]:.1f}",
                )
            )
    _write_csv(path, rows)


def _write_csv(path: Path, rows: list[tuple[str, ...]]) -> None:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    path.write_bytes(text.getvalue().encode())


def _write_points(stem: Path, ids: list[str], lonlat: Array) -> None:
    """Write a shapefile in UTM zone 30 north."""
    transformer = Transformer.from_crs("EPSG:4326", "EPSG:32630", always_xy=True)
    easting, northing = transformer.transform(lonlat[:, 0], lonlat[:, 1])
    with shapefile.Writer(str(stem), shapefile.POINT, encoding="utf-8") as writer:
        writer.field("sample", "C", size=8)
        for text, x, y in zip(ids, easting, northing, strict=True):
            writer.point(round(float(x), 2), round(float(y), 2))
            writer.record(text)
    # The table's head holds the day of writing, which may not be part of a sample.
    table = bytearray(stem.with_suffix(".dbf").read_bytes())
    table[1:4] = bytes((126, 8, 20))
    stem.with_suffix(".dbf").write_bytes(table)
    stem.with_suffix(".prj").write_bytes(UTM_30N.encode())
    stem.with_suffix(".cpg").write_bytes(b"UTF-8")


def heights(scene: Scene, xy: Array, *, seed: int) -> Array:
    """Return heights [m] that fall towards the creek and rise from the ditch."""
    generator = np.random.default_rng([seed, 3])
    creek, ditch = (shapely.from_wkt(WATER[one][0]) for one in ("stream", "ditch"))
    points = shapely.points(xy)
    away = np.minimum(shapely.distance(points, creek), 400.0)
    beside = np.minimum(shapely.distance(points, ditch), 60.0)
    x, y = generator.uniform(-250.0, 250.0, 2)
    knoll = 1.6 * np.exp(-((xy[:, 0] - x) ** 2 + (xy[:, 1] - y) ** 2) / 2.0 / 90.0**2)
    # Steep near the bank, then nearly level, as till plains are.
    bank = 4.5 * (1.0 - np.exp(-away / 45.0)) + 0.008 * away
    return np.asarray(241.0 + bank + 0.012 * beside + knoll, dtype=np.float64)


def _write_water(path: Path, scene: Scene) -> None:
    """Write a creek, a ditch that ends in it and a well, each of its kind."""
    features = []
    for kind, shapes in WATER.items():
        for text in shapes:
            shape = shapely.from_wkt(text)
            lonlat = shapely.transform(shape, lambda xy: _lonlat(scene, xy))
            rounded = shapely.transform(lonlat, lambda xy: np.round(xy, 7))
            geometry = json.loads(shapely.to_geojson(rounded))
            properties = {"kind": kind}
            features.append(
                {"type": "Feature", "properties": properties, "geometry": geometry}
            )
    lines = ",\n".join(json.dumps(feature) for feature in features)
    text = f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'
    path.write_bytes(text.encode())


def _write_heights(path: Path, scene: Scene, *, seed: int) -> None:
    """Write heights on a grid of 10 m in the scene's own CRS, in whole centimetres."""
    import rasterio

    west, south, east, north = scene.outline.buffer(60.0).bounds
    columns, rows = (int((east - west) // 10.0) + 1, int((north - south) // 10.0) + 1)
    x = west + (np.arange(columns) + 0.5) * 10.0
    y = north - (np.arange(rows) + 0.5) * 10.0
    xy = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    values = np.round(heights(scene, xy, seed=seed), 2).astype(np.float32)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=1,
        dtype="float32",
        crs=scene.crs.to_wkt(),
        transform=rasterio.Affine(10.0, 0.0, west, 0.0, -10.0, north),
        compress="deflate",
        predictor=3,
    ) as to:
        to.write(values.reshape(rows, columns), 1)
        to.set_band_description(1, "height [m]")
        to.units = ("m",)


def _write_truth(path: Path, scene: Scene, truth: Surface) -> None:
    """Write the true surface's cells whose middle is in the field."""
    coarse = truth.coarser(round(TRUTH_CELL / truth.cell))
    xy, value = coarse.xy, coarse.value.ravel()
    inside = shapely.contains_xy(scene.outline, xy)
    lonlat = _lonlat(scene, xy[inside])
    rows = [
        (f"{lon:.7f}", f"{lat:.7f}", f"{test:.3f}")
        for (lon, lat), test in zip(lonlat, value[inside], strict=True)
    ]
    _write_csv(path, [("lon", "lat", "soil_test_p"), *rows])


def _metres(*parts: str) -> shapely.MultiPolygon:
    """Return polygons from their rings as WKT writes them, wound as RFC 7946 asks."""
    polygons = [shapely.from_wkt(f"POLYGON ({rings})") for rings in parts]
    return shapely.MultiPolygon([shapely.orient_polygons(p) for p in polygons])


UTM_30N = (
    'PROJCS["WGS_1984_UTM_Zone_30N",GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",'
    'SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],'
    'UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],'
    'PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],'
    'PARAMETER["Central_Meridian",-3.0],PARAMETER["Scale_Factor",0.9996],'
    'PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]'
)

# Seeds were chosen among the first sixty, so that mean and spread of these very samples
# are near those asked of the soil, and the map shows every class of the guideline.

# A field of some 75 acres around a wooded wet spot.
US = Scene(
    name="us",
    lon=-84.35,
    lat=40.62,
    outline=_metres(
        "(-281 -276, 242 -281, 244 -102, 308 -95, 312 145, 247 254, 116 271, 19 308, "
        "-228 291, -276 116, -281 -276), "
        "(68 19, 21 17, -12 50, 4 93, 41 114, 81 99, 95 56, 68 19)"
    ),
    spacing=63.6,  # one sample an acre
    soil=Soil(mean=21.0),
    decimals=0,
    ph=6.5,
    organic_matter=2.8,
    seed=0,
)

# A field of some 35 ha in two parts, with a lane of 7 m between them.
METRIC = Scene(
    name="metric",
    lon=-0.71,
    lat=53.03,
    outline=_metres(
        "(-338 -246, -46 -274, 31 268, -164 297, -307 256, -353 20, -338 -246)",
        "(-39 -275, 292 -261, 338 -61, 325 194, 246 274, 38 267, -39 -275)",
    ),
    spacing=63.2,  # one sample in 0.4 ha
    soil=Soil(mean=18.0),
    decimals=1,
    ph=7.1,
    organic_matter=3.6,
    seed=20,
)

# A field of some 60 acres that has not been tilled for years, with lime in one corner.
LAYERS = Scene(
    name="layers",
    lon=-89.21,
    lat=40.48,
    outline=_metres("(-256 -232, 248 -236, 254 187, 61 236, -249 229, -256 -232)"),
    spacing=63.6,  # one core an acre
    soil=Soil(mean=19.0),
    decimals=0,
    ph=6.3,
    organic_matter=3.1,
    seed=21,
)

# A field of some 52 acres on an invented creek, which winds along its south side, with
# a ditch that comes out of the field and ends in it, and a well at the yard.
CREEK = Scene(
    name="creek",
    lon=-83.87,
    lat=40.93,
    outline=_metres(
        "(-262 -182, -190 -206, -108 -196, -31 -219, 52 -207, 128 -226, 214 -212, "
        "258 -221, 262 196, 41 203, -255 188, -262 -182)"
    ),
    spacing=63.6,  # one sample an acre
    soil=Soil(mean=21.0),
    decimals=0,
    ph=6.4,
    organic_matter=2.9,
    seed=1,
)
WATER = {
    "stream": [
        "LINESTRING (-420 -160, -330 -196, -262 -190, -188 -215, -110 -204, -33 -228, "
        "50 -216, 129 -236, 214 -221, 262 -231, 340 -212, 430 -226)"
    ],
    "ditch": ["LINESTRING (97 72, 92 -20, 104 -110, 99 -170, 112 -231)"],
    "well": ["POINT (-238 171)"],
}

SCENES = {scene.name: scene for scene in (US, METRIC, LAYERS, CREEK)}


def main() -> None:
    """Write the fields below a folder."""
    parser = argparse.ArgumentParser(description="Draw the sample fields.")
    here = Path(__file__).parent
    parser.add_argument("folder", type=Path, nargs="?", default=here)
    parser.add_argument("--seed", type=int, help="another soil on the same ground")
    parser.add_argument("--truth", action="store_true", help="write truth.csv as well")
    given = parser.parse_args()
    for name, scene in SCENES.items():
        seed = scene.seed if given.seed is None else given.seed
        print(write(given.folder / name, scene, seed=seed, truth=given.truth))


if __name__ == "__main__":
    main()
