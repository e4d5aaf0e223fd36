"""soil_test.tif: the surface as a Cloud Optimized GeoTIFF in the field's own CRS."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from vrp.prescription import Prescription, SoilTestMap

NAME = "soil_test.tif"

# Far below any figure in it; NaN is not known to every GIS.
NO_DATA = -9999.0


@dataclass(frozen=True, slots=True)
class Band:
    """One band as it stands in the file, NaN where it has no data."""

    description: str
    values: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Raster:
    """A raster as it stands in the file."""

    bands: tuple[Band, ...]
    bounds: tuple[float, float, float, float]  # west, south, east, north [m]
    cell: tuple[float, float]  # [m]
    crs: str  # well-known text, empty where the file states none


def write(path: Path, prescription: Prescription, surface: SoilTestMap) -> None:
    """Write estimate, standard error and probability of being short, a band each."""
    from rasterio import Affine, MemoryFile

    names = band_names(prescription)
    bands = np.stack([surface.estimate, surface.error, surface.short])
    bands = np.where(np.isnan(bands), np.float32(NO_DATA), bands)
    rows, columns = surface.estimate.shape
    side = surface.cell
    with MemoryFile() as file:
        with file.open(
            driver="COG",
            width=columns,
            height=rows,
            count=len(names),
            dtype="float32",
            nodata=NO_DATA,
            crs=_named(surface.crs),
            transform=Affine(side, 0.0, surface.west, 0.0, -side, surface.north),
            compress="DEFLATE",
            predictor="YES",
            overview_resampling="AVERAGE",
            statistics="YES",
        ) as to:
            to.write(bands)
            for number, (name, unit) in enumerate(names, start=1):
                to.set_band_description(number, f"{name} [{unit}]" if unit else name)
                to.set_band_unit(number, unit)
        path.write_bytes(file.read())


def read(path: Path) -> Raster:
    """Return bands and ground as rasterio reads them."""
    import rasterio

    with rasterio.open(path) as source:
        masked = source.read(masked=True)
        bands = tuple(
            Band(name or "", each.filled(np.float32(np.nan)))
            for name, each in zip(source.descriptions, masked, strict=True)
        )
        crs = source.crs.to_wkt() if source.crs else ""
        return Raster(bands, tuple(source.bounds), source.res, crs)


def band_names(prescription: Prescription) -> tuple[tuple[str, str], ...]:
    """Return what each band is, and its unit."""
    guideline, samples = prescription.guideline, prescription.plan.samples
    unit, method = guideline.soil_test_unit, samples.counted_method
    return (
        (f"soil test P, {method}", unit),
        ("standard error", unit),
        (f"probability of being below {guideline.critical:g} {unit}", ""),
    )


def _named(crs: str) -> str:
    """Give the CRS a name that a GIS can show: by its central meridian and parallel."""
    found = re.findall(r'"(?:Latitude|Longitude) of natural origin",(-?[\d.]+)', crs)
    name = f"Transverse Mercator on {' '.join(found)}"
    return crs.replace('PROJCRS["unknown"', f'PROJCRS["{name}"', 1).replace(
        'BASEGEOGCRS["unknown"', 'BASEGEOGCRS["WGS 84"', 1
    )
