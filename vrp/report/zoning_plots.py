"""What zones are worth by their number."""

from vrp.legend import rate_unit
from vrp.prescription import Prescription, ZoningFacts
from vrp.report.map_frame import MARGIN
from vrp.report.plot import Axes, drawn, marks
from vrp.report.svg import SMALL, escaped, framed, path, rule, say, say_all, short
from vrp.report.zone_map import WIDTH, headed, name_of

_LEFT, _TOP = 56.0, 76.0


def zoning_plot(
    prescription: Prescription, facts: ZoningFacts, *, width: float = WIDTH
) -> str:
    """Return what bands of need misplace by their number, and what this map does."""
    unit = rate_unit(prescription).replace("/", " P2O5/")
    one_rate, built, knee = facts.one_rate, facts.built, facts.knee
    assert one_rate is not None
    assert built is not None
    assert knee is not None
    most = max(one.misplaced for one in (one_rate, built, *facts.bands))
    last = max(len(facts.bands), built.zones)
    axes = Axes(
        _LEFT,
        width - MARGIN - 14.0,
        _TOP,
        _TOP + 170.0,
        marks(0.0, last + 0.5, most=8),
        marks(0.0, most * 1.05, most=5),
    )
    line = [axes.at(one.zones, one.misplaced) for one in facts.bands]
    parts = [
        *headed(prescription, "What zones are worth", width=width),
        *drawn(axes, across="zones", up=f"misplaced [{unit}]"),
        f'<path data-part="bands" class="tone-0" fill="none" stroke-width="2" '
        f'd="{path([line])}"/>',
    ]
    told = []
    for one in facts.bands:
        x, y = axes.at(one.zones, one.misplaced)
        said = f"{one.zones} bands: {one.misplaced:.1f}"
        told.append(said)
        parts.append(
            f'<circle data-part="band" cx="{short(x)}" cy="{short(y)}" r="2.6" '
            f'class="ink"><title>{escaped(f"{said} {unit}")}</title></circle>'
        )
    parts.append(
        rule(
            "limit",
            axes.at(0.0, one_rate.misplaced),
            axes.at(axes.across[-1], one_rate.misplaced),
        )
    )
    foot, head = axes.at(knee, 0.0), axes.at(knee, axes.up[-1])
    parts.append(rule("limit", foot, head))
    x, y = axes.at(built.zones, built.misplaced)
    parts.append(
        f'<circle data-part="built" cx="{short(x)}" cy="{short(y)}" r="6" '
        f'class="tone-1" fill="none" stroke-width="2"/>'
    )
    beside = say(f"{built.misplaced:.1f}", x + 9.0, y - 7.0, size=SMALL, kind="value")
    parts.append(beside)
    note = (
        f"P2O5 too little and too much, summed, against the need at each cell, which "
        f"is an estimate itself. Line: bands of need. Ring: this map, "
        f"{built.misplaced:.1f} {unit}. Level dashes: one rate for the field, "
        f"{one_rate.misplaced:.1f}. Upright dashes: from {knee} bands on each "
        f"further one saves less than {facts.worth:g}."
    )
    more, y = say_all(note, MARGIN, axes.bottom + 54.0, room=width - 2.0 * MARGIN)
    return framed(
        f"What zones are worth, {name_of(prescription)}",
        f"{'; '.join(told)}. {note}",
        width=width,
        height=y,
        parts=[*parts, *more],
    )
