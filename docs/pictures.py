"""
Draw the pictures of the documentation from the sample fields.

    python docs/pictures.py

Needs playwright and a chromium on the PATH, or named by VRP_CHROMIUM, and poppler's
pdftoppm. Run it where the looks of a page changed; the pictures are committed.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from vrp import job

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "docs" / "pictures"
CHROMIUM = os.environ.get("VRP_CHROMIUM") or shutil.which("chromium")


@dataclass(frozen=True, slots=True)
class Picture:
    """A part of a sample field's page, as a screen shows it."""

    name: str
    field: str
    width: int
    height: int
    part: str = ""  # that is opened, from the top of the screen
    dark: bool = False


OF_THE_PAGE = (
    Picture("report_first", "creek", 1080, 800),
    Picture("report_dark", "metric", 1080, 700, dark=True),
    Picture("report_phone", "us", 360, 720),
    Picture("report_ledger", "us", 1080, 520, "#zone-4"),
)

OF_THE_SHEET = "us"  # the field whose first page is drawn


@contextmanager
def browser() -> Iterator[Any]:
    """Yield a browser without a window."""
    from playwright.sync_api import sync_playwright

    if CHROMIUM is None:
        sys.exit("no chromium on the PATH: set VRP_CHROMIUM")
    with sync_playwright() as engine:
        started = engine.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox"]
        )
        yield started
        started.close()


def draw_page(started: Any, picture: Picture, out: Path) -> None:
    """Write a picture of a page."""
    context = started.new_context(
        viewport={"width": picture.width, "height": picture.height},
        color_scheme="dark" if picture.dark else "light",
    )
    shown = context.new_page()
    shown.goto((out / "report.html").as_uri() + picture.part)
    shown.screenshot(path=PICTURES / f"{picture.name}.png")
    context.close()


def draw_sheet(out: Path) -> None:
    """Write the first page of a job sheet."""
    program = shutil.which("pdftoppm")
    if program is None:
        sys.exit("no pdftoppm on the PATH: install poppler-utils")
    options = ["-png", "-r", "80", "-singlefile"]
    to = PICTURES / "job_sheet"
    subprocess.run([program, *options, out / "job_sheet.pdf", to], check=True)


def main() -> None:
    """Write every picture."""
    PICTURES.mkdir(exist_ok=True)
    with TemporaryDirectory() as folder:
        names = {OF_THE_SHEET, *(one.field for one in OF_THE_PAGE)}
        outs = {name: Path(folder) / name for name in sorted(names)}
        for name, out in outs.items():
            job.run(ROOT / "sample_fields" / name, out=out)
        draw_sheet(outs[OF_THE_SHEET])
        with browser() as started:
            for picture in OF_THE_PAGE:
                draw_page(started, picture, outs[picture.field])


if __name__ == "__main__":
    main()
