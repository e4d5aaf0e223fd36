"""Arguments in, one library call, messages and exit code out."""

import sys
from io import TextIOWrapper
from pathlib import Path
from typing import Any

import click

from vrp.errors import InputError

HELD_BACK, DISAGREES = 3, 4

_FOLDER = click.Path(file_okay=False, path_type=Path)
_PATH = click.Path(path_type=Path)
_json = click.option("--json", "as_json", is_flag=True, help="Print JSON instead.")
_quiet = click.option("--quiet", is_flag=True, help="Print nothing but errors.")


class _Refused(click.ClickException):
    """What the user can mend."""

    exit_code = 2


class _Group(click.Group):
    """Shows what the user can mend as one message; exit code 2."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except InputError as exc:
            from vrp.legend import plain

            raise _Refused(_bounded(plain(str(exc)))) from exc


def _bounded(message: str) -> str:
    """Return a message that fits a screen: the fault stands first, the remedy last."""
    return message if len(message) <= 1500 else f"{message[:1000]} … {message[-400:]}"


@click.group(cls=_Group)
@click.version_option(package_name="vrp")
def main() -> None:
    """Phosphate rate maps from soil tests, every rate with its arithmetic."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A terminal that lacks a character is no reason to fail.
            stream.reconfigure(errors="backslashreplace")


@main.command()
@click.argument("directory", metavar="DIR", type=_FOLDER)
@click.option("--boundary", required=True, type=_PATH, help="The field's outline.")
@click.option("--samples", required=True, type=_PATH, help="The laboratory's results.")
def new(directory: Path, boundary: Path, samples: Path) -> None:
    """Write a commented field file to start from, in DIR."""
    from vrp.io.new import draft

    written = draft(directory, boundary=boundary, samples=samples)
    click.echo(
        f"{written}: check the guesses, fill in what is left open, then vrp build"
    )


@main.command()
@click.argument("field", metavar="FIELD", type=_PATH)
@click.option("--out", type=_FOLDER, help="Output folder; out/ beside the field file.")
@click.option("--overwrite", is_flag=True, help="Replace OUT whatever it holds.")
@_json
@_quiet
@click.pass_context
def build(
    ctx: click.Context,
    field: Path,
    out: Path | None,
    *,
    overwrite: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Build the rate map that FIELD asks for: a field.toml, or its folder."""
    from vrp import job
    from vrp.io.folder import RECORD
    from vrp.report.summary import summary

    prescription, folder = job.run(field, out=out, overwrite=overwrite)
    if as_json:
        click.echo((folder / RECORD).read_text("utf-8"), nl=False)
    elif not quiet:
        summary(prescription, file=sys.stdout)
        click.echo(f"Written: {folder}")
    if prescription.held_back:
        click.echo("A stop finding holds the machine files back.", err=True)
        ctx.exit(HELD_BACK)


@main.command()
@click.argument("out", metavar="OUT", type=_FOLDER)
@click.option("--zone", type=int, help="One zone only.")
@click.option(
    "--at",
    metavar="LONGITUDE LATITUDE",
    nargs=2,
    type=float,
    help="Only the zone that holds a place.",
)
@_json
def explain(
    out: Path, zone: int | None, at: tuple[float, float] | None, as_json: bool
) -> None:
    """Walk from the laboratory's figures to the product, step by step."""
    from vrp.io import record
    from vrp.io.explained import explained, place_in, zone_at
    from vrp.report import terminal
    from vrp.report.details import details

    if zone is not None:
        _without_effect("one --zone", {"--at": at})
    prescription = None
    if at is not None:
        prescription = explained(out)
        zone = zone_at(prescription, *at)
    found = record.zones(out, number=zone)
    if as_json:
        click.echo(record.as_json(found))
        return
    prescription = prescription or explained(out)
    if zone is None:
        details(prescription, file=sys.stdout)
    for one in found:
        place = place_in(prescription, one.zone)
        terminal.ledger(
            f"Zone {one.zone}: {one.stp_class}", one.ledger, at=place, file=sys.stdout
        )


@main.command()
@click.argument("out", metavar="OUT", type=_FOLDER)
@_json
@_quiet
@click.pass_context
def verify(ctx: click.Context, out: Path, *, as_json: bool, quiet: bool) -> None:
    """Read every file of OUT back and say whether they agree; exit code 4 if not."""
    from vrp.io.verify import verify as verified
    from vrp.report import terminal

    found = verified(out)
    if as_json:
        terminal.print_json(found.as_json(), file=sys.stdout)
    elif not quiet:
        terminal.agreement(
            [(one.file, one.compared, one.faults) for one in found.checks],
            found.adoption.sentences,
            found.adoption.lines,
            file=sys.stdout,
        )
    if found.faults:
        ctx.exit(DISAGREES)


@main.command()
@click.argument("to", metavar="DIR", type=_FOLDER)
@click.argument("outs", metavar="OUT...", type=_FOLDER, nargs=-1, required=True)
def stick(to: Path, outs: tuple[Path, ...]) -> None:
    """Gather the machine files of built fields in DIR: one TASKDATA for all."""
    from vrp.io.stick import gather

    grids = gather(to, outs)
    click.echo(f"Written: {to}, {len(outs)} fields, {len(grids)} of them as task data")
    click.echo("Copy what is in it to the root of the stick.")


@main.command()
@click.argument("which", metavar="[ID | FILE]", required=False)
@click.option(
    "--compare",
    metavar="CROP",
    help="Every guideline's need of CROP along the soil test.",
)
@click.option(
    "--own",
    metavar="FILE",
    multiple=True,
    help="Your own beside them; may stand more than once.",
)
@click.option("--svg", metavar="FILE", type=_PATH, help="Draw the comparison, as SVG.")
@click.option("--crop", metavar="CROP", help="One crop of ID only.")
@click.option(
    "--yield-goal", metavar="N", type=float, help="In bu/ac or ton/ac; metric: t/ha."
)
@click.option(
    "--units", type=click.Choice(["us", "metric"]), help="Of yield goal and need."
)
@click.option("--method", help="One soil-test method only.")
@click.option(
    "--residue",
    type=click.Choice(["left", "removed"]),
    help="Else both, where told apart.",
)
@click.option("--region", help="One region of those with regions; else each.")
@_json
def guidelines(which: str | None, as_json: bool, **given: Any) -> None:
    """List the guidelines that ship, show one with its needs, or compare them."""
    from vrp.agronomy.comparison import compare as comparison_of
    from vrp.io import guideline_file
    from vrp.report import compare_view, guideline_view

    compare, own, svg = (given.pop(name) for name in ("compare", "own", "svg"))
    crop, system = given.pop("crop"), given.pop("units")
    if compare is not None:
        _without_effect("--compare", {"ID": which, "--crop": crop})
        if given["yield_goal"] is None:
            raise InputError(
                "--compare asks for --yield-goal, such as --yield-goal 200"
            )
        comparison = comparison_of(
            guideline_file.every(own), compare, system=system or "us", **given
        )
        if svg is not None:
            compare_view.draw(comparison, svg)
            click.echo(f"Written: {svg}", err=True)
        (compare_view.as_json if as_json else compare_view.show)(
            comparison, file=sys.stdout
        )
    elif which is not None:
        _without_effect("one guideline", {"--own": own or None, "--svg": svg})
        name, guideline = guideline_file.find(which)
        guideline_view.one(
            name,
            guideline,
            as_json=as_json,
            file=sys.stdout,
            crop=crop,
            system=system,
            **given,
        )
    else:
        asked = {"--own": own or None, "--svg": svg, "--crop": crop, "--units": system}
        asked |= {f"--{key.replace('_', '-')}": value for key, value in given.items()}
        _without_effect("the list", asked)
        guideline_view.listing(as_json=as_json, file=sys.stdout)


@main.command()
@click.argument("crop", metavar="[CROP]", required=False)
@_json
def removal(crop: str | None, as_json: bool) -> None:
    """Compare what publications say a crop's harvest takes away of P2O5."""
    from vrp.report import removal_view

    removal_view.show(crop, as_json=as_json, file=sys.stdout)


@main.command()
@click.argument("which", metavar="[ID | FILE]", required=False)
@_json
def rules(which: str | None, as_json: bool) -> None:
    """List the rules on water that ship, or show every rule of one set."""
    from vrp.io import rule_file
    from vrp.report import rules_view

    if which is None:
        rules_view.listing(as_json=as_json, file=sys.stdout)
    else:
        rules_view.one(rule_file.find(which), as_json=as_json, file=sys.stdout)


@main.command()
@click.argument("out", metavar="OUT", type=_FOLDER)
@click.option(
    "--forecast",
    "windows",
    metavar="RAIN HOURS CHANCE",
    nargs=3,
    type=float,
    multiple=True,
    help="Rain (inches; metric: mm) within HOURS at CHANCE percent; may stand again.",
)
@click.option("--frozen/--not-frozen", default=None, help="The soil.")
@click.option("--snow/--no-snow", default=None, help="On the ground.")
@click.option(
    "--saturated/--not-saturated", default=None, help="The top 2 inches of the soil."
)
@click.option("--growing-crop/--no-growing-crop", default=None, help="On the field.")
@click.option("--worked-in", metavar="HOURS", type=float, help="After how many hours.")
@click.option("--injected", is_flag=True, default=None, help="Or banded, in the soil.")
@click.option("--date", metavar="YYYY-MM-DD", help="Else as planned.")
@click.option("--day", metavar="FILE", type=_PATH, help="The same, in a TOML file.")
@_json
@click.pass_context
def ready(
    ctx: click.Context, /, out: Path, day: Path | None, as_json: bool, **options: Any
) -> None:
    """Hold the rules that OUT names to the day; exit code 3 where one forbids."""
    from vrp.io.ready import readiness
    from vrp.report import ready_view

    found = readiness(out, file=day, options=options)
    ready_view.show(found, as_json=as_json, file=sys.stdout)
    if found.forbidden:
        ctx.exit(HELD_BACK)


def _without_effect(command: str, options: dict[str, Any]) -> None:
    """Refuse what was given but would change nothing."""
    for name, value in options.items():
        if value is not None:
            raise InputError(f"{name} has no effect on {command}: leave it out")
