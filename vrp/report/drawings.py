"""All drawings of a run, by name; what the run does not hold is not among them."""

import numpy as np

from vrp.prescription import Prescription
from vrp.report.season_plots import against_uniform, balance_bars, soil_test_after
from vrp.report.surface_map import error_map, shortage_map, soil_test_surface
from vrp.report.surface_plots import left_out_plot, skill_bars, variogram_plot
from vrp.report.zone_map import rate_map, soil_test_zones
from vrp.report.zoning_plots import zoning_plot


def drawings(prescription: Prescription, *, linked: bool = False) -> dict[str, str]:
    """Return each drawing as SVG text, in the order in which a reader needs them."""
    found = {"rates": rate_map(prescription, linked=linked)}
    cells, facts = prescription.soil_test_map, prescription.surface
    if cells is None:
        found["soil test"] = soil_test_zones(prescription)
    else:
        found["soil test"] = soil_test_surface(prescription, cells)
        # One sample alone says nothing of its error.
        if np.isfinite(cells.error).any():
            found["error"] = error_map(prescription, cells)
        if np.isfinite(cells.short).any():
            found["shortage"] = shortage_map(prescription, cells)
    if facts is not None:
        found["skill"] = skill_bars(prescription, facts)
        if any(one.leave_one_out is not None for one in facts.left_out):
            found["left out"] = left_out_plot(prescription, facts)
        if facts.variogram is not None:
            found["variogram"] = variogram_plot(prescription, facts.variogram)
    found["against one rate"] = against_uniform(prescription)
    zoning = prescription.zoning
    if zoning is not None and zoning.bands:
        found["zones"] = zoning_plot(prescription, zoning)
    if any(one.stp_mid is not None for one in prescription.seasons):
        found["soil test after"] = soil_test_after(prescription)
    if any(one.balance is not None for one in prescription.seasons):
        found["balance"] = balance_bars(prescription)
    return found
