"""Keys of [samples] that contradict each other."""

from vrp.agronomy.conversions import conversion
from vrp.errors import InputError
from vrp.plan import SampleTable


def contradictions(samples: SampleTable) -> dict[str, bool]:
    """Return what may be wrong with [samples], and whether it is."""
    twice = {
        samples.ph,
        samples.organic_matter,
        samples.bray_p2,
        samples.depth_from,
        samples.depth_to,
    }
    layered = samples.depth_from is not None
    return {
        "samples.x and samples.y go together": (samples.x is None)
        != (samples.y is None),
        "samples.points needs samples.id, the column that joins results to positions": (
            samples.points is not None and samples.id is None
        ),
        f"samples: column {samples.soil_test!r} cannot be soil_test and ph, "
        "organic_matter, bray_p2 or a depth as well": samples.soil_test in twice,
        "samples.depth_from and samples.depth_to go together": (
            layered != (samples.depth_to is not None)
        ),
        "samples.depth_from needs samples.id, the column that joins the layers of a "
        "core": layered and samples.id is None,
        'samples.bray_p2 is strong Bray beside weak Bray: it needs method = "bray-p1", '
        f"not {samples.method!r}": (
            samples.bray_p2 is not None and samples.method != "bray-p1"
        ),
        "samples.bray_p2 stands beside a measured Bray P1, and computed_from says that "
        "it is none": (
            samples.bray_p2 is not None and samples.computed_from is not None
        ),
        "samples.computed_from is the method itself: method is what the numbers count "
        "as, such as bray-p1, and computed_from what was run, such as mehlich-3-icp; "
        "leave it out where the laboratory measured what it reports": (
            samples.computed_from == samples.method
        ),
        "samples.convert cannot follow computed_from: what was computed once is not "
        "converted again": (
            samples.convert is not None and samples.computed_from is not None
        ),
        "samples.barriers end a surface, and composites have none: it needs kind = "
        '"point"': samples.barriers is not None and samples.kind != "point",
        "samples.convert needs a soil test by mass, and mg/L is by volume": (
            samples.convert is not None and samples.unit == "mg/L"
        ),
    }


def check_conversion(samples: SampleTable, *, file: str) -> None:
    """Refuse a conversion that is not known, or is from another method."""
    if samples.convert is None:
        return
    try:
        conversion(samples.convert, method=samples.method)
    except InputError as exc:
        raise InputError(f"{file}: samples.{exc}") from exc
