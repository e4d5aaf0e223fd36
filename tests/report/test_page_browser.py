"""The page in a browser, from the disk: it works, asks nothing, and is accessible."""

import os
import shutil
from pathlib import Path

import pytest

from vrp import job

ROOT = Path(__file__).parents[2]
FIELDS = sorted(one.parent.name for one in ROOT.glob("sample_fields/*/field.toml"))
CHROMIUM = os.environ.get("VRP_CHROMIUM") or shutil.which("chromium")
AXE = Path(
    os.environ.get("VRP_AXE") or ROOT / "node_modules" / "axe-core" / "axe.min.js"
)
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}


@pytest.fixture(scope="module")
def browser():
    """Return a browser without a window."""
    playwright = pytest.importorskip("playwright.sync_api")
    if CHROMIUM is None:
        pytest.skip("no chromium on the PATH, and VRP_CHROMIUM names none")
    with playwright.sync_playwright() as engine:
        started = engine.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox"]
        )
        yield started
        started.close()


@pytest.fixture(scope="module", params=FIELDS)
def built(request, sample_fields, tmp_path_factory):
    """Return the prescription and the page's file of a sample field."""
    out = tmp_path_factory.mktemp("seen") / "out"
    prescription, folder = job.run(sample_fields / request.param, out=out)
    return prescription, folder / "report.html"


@pytest.fixture
def opened(browser, built):
    """Return what opens the page; it fails where anything was asked for or said."""
    contexts, heard = [], []

    def open_page(viewport=DESK, **kinds):
        context = browser.new_context(viewport=viewport, **kinds)
        contexts.append(context)
        found = context.new_page()
        found.on("console", lambda message: heard.append(message.text))
        found.on("pageerror", lambda error: heard.append(str(error)))
        address = built[1].as_uri()
        found.on(
            "request",
            lambda asked: (
                heard.append(asked.url)
                if asked.url.partition("#")[0] not in {address, "data:,"}
                else None
            ),
        )
        found.goto(address)
        return found

    yield open_page
    for context in contexts:
        context.close()
    assert heard == []


def test_click_opens_the_ledger(opened, built):
    """A click on a zone opens the ledger of that zone and of no other."""
    for zone in built[0].zones:
        page = opened()
        link = page.locator(f'.map a[href="#zone-{zone.number}"]')
        assert not page.locator(".ledger:visible:not(.plain)").count()

        # A place on its ground: the middle of a zone may lie in another.
        place = link.locator("path[data-zone]").evaluate(INSIDE)
        page.mouse.click(*place)

        page.wait_for_selector(f"#zone-{zone.number} details[open]")
        assert page.locator("article details[open]").count() == 1
        ledger = page.locator(f"#zone-{zone.number} ol.ledger > li")
        assert ledger.count() == len(zone.ledger)
        assert zone.ledger[-1].rule in ledger.nth(len(zone.ledger) - 1).inner_text()


# A point of a path that is on top of all else there, in the window.
INSIDE = """(path) => {
    path.ownerSVGElement.scrollIntoView({block: "center"});
    const box = path.getBoundingClientRect();
    for (let step = 24; step >= 3; step /= 2)
        for (let x = box.left + step / 2; x < box.right; x += step)
            for (let y = box.top + step / 2; y < box.bottom; y += step)
                if (document.elementFromPoint(x, y) === path) return [x, y];
    return null;
}"""


def test_pointing_shows_figures(opened, built):
    """Pointed at, a zone shows its rate, area and need below the map."""
    page, zone = opened(), built[0].zones[-1]
    empty = page.locator(".readout").inner_text()
    path = page.locator(f'.map a[href="#zone-{zone.number}"] path[data-zone]')

    page.mouse.move(*path.evaluate(INSIDE))

    shown = page.locator(".readout").inner_text()
    assert shown != empty
    assert f"zone {zone.number}: {zone.rate:g} " in shown
    assert f" on {zone.area:.1f} " in shown
    page.mouse.move(1, 1)
    assert page.locator(".readout").inner_text() == empty


def test_keyboard_reaches_every_zone(opened, built):
    """Tab goes from zone to zone with its figures, and Enter opens the ledger."""
    page = opened()
    for zone in built[0].zones:
        page.keyboard.press("Tab")
        focused = page.evaluate("document.activeElement.getAttribute('href')")
        assert focused == f"#zone-{zone.number}"
        assert f"zone {zone.number}: " in page.locator(".readout").inner_text()

    page.keyboard.press("Enter")

    last = built[0].zones[-1].number
    page.wait_for_selector(f"#zone-{last} details[open]")
    assert page.evaluate("document.activeElement.id") == f"zone-{last}"


def test_touch_shows_then_opens(opened, built):
    """On a phone the first touch shows a zone's figures, the second its ledger."""
    page, zone = opened(PHONE, has_touch=True, is_mobile=True), built[0].zones[0]
    path = page.locator(f'.map a[href="#zone-{zone.number}"] path[data-zone]')
    place = path.evaluate(INSIDE)

    page.touchscreen.tap(*place)

    assert f"zone {zone.number}: " in page.locator(".readout").inner_text()
    assert not page.locator("article details[open]").count()

    page.touchscreen.tap(*path.evaluate(INSIDE))

    page.wait_for_selector(f"#zone-{zone.number} details[open]")


def test_a_heading_sorts(opened, built):
    """The heading of the rate sorts the zones by it, up and then down."""
    page, rates = opened(), [zone.rate for zone in built[0].zones]
    button = page.locator("table.zones th button", has_text="rate [")

    def shown():
        cells = page.locator('table.zones data[data-name^="rate"]')
        return [float(one.get_attribute("value")) for one in cells.all()]

    assert shown() == rates
    button.click()
    assert shown() == sorted(rates)
    button.click()
    assert shown() == sorted(rates, reverse=True)


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_is_wider_than_the_screen(viewport, opened):
    """The page is as wide as the screen; what is wider scrolls on its own."""
    page = opened(viewport)

    assert page.evaluate("document.documentElement.scrollWidth") == viewport["width"]


def test_works_without_script(opened, built):
    """With scripts forbidden a link from the map still leads to the zone's card."""
    page, zone = opened(java_script_enabled=False), built[0].zones[0]

    page.locator(f'table.zones a[href="#zone-{zone.number}"]').click()

    assert page.url.endswith(f"#zone-{zone.number}")
    assert page.locator(f"#zone-{zone.number} summary").first.is_visible()


def test_print_unfolds_everything(opened, built, tmp_path):
    """Printed on Letter or A4, every line of every ledger is there."""
    pypdf = pytest.importorskip("pypdf")
    page = opened()
    for paper in ("Letter", "A4"):
        path = tmp_path / f"{paper}.pdf"
        page.pdf(path=path, format=paper)
        pages = pypdf.PdfReader(path).pages
        text = " ".join(" ".join(one.extract_text() for one in pages).split())
        for zone in built[0].zones:
            assert f"Ledger of zone {zone.number}, {len(zone.ledger)} lines" in text
        steps = [line.step for zone in built[0].zones for line in zone.ledger]
        assert text.count("product in the zone") >= steps.count("product in the zone")
        assert "To sign" in text
        # Printed on each sheet, so that none of them passes for a permit.
        assert text.count("Draft for a qualified person") >= len(pages)


@pytest.mark.parametrize("width", [695, 718], ids=["A4", "Letter"])
def test_no_table_is_cut_in_print(width, opened):
    """On paper, between its margins, no table or figure is wider than the sheet."""
    page = opened({"width": width, "height": 1000})
    page.emulate_media(media="print")

    wider = page.evaluate(WIDER)

    assert wider == []


# What reaches beyond the page's right edge, but for what is drawn.
WIDER = """[...document.querySelectorAll("body *")]
    .filter((one) => one.getBoundingClientRect().right > innerWidth + 1)
    .filter((one) => !one.closest("svg"))
    .map((one) => one.outerHTML.slice(0, 80))"""


@pytest.mark.parametrize(
    ("viewport", "scheme"), [(DESK, "light"), (PHONE, "dark")], ids=["desk", "phone"]
)
def test_accessible(viewport, scheme, opened):
    """The rules of axe-core find nothing serious, everything unfolded."""
    if not AXE.is_file():
        pytest.skip("no axe-core: npm install axe-core, or VRP_AXE names axe.min.js")
    page = opened(viewport, color_scheme=scheme)
    page.evaluate(
        "for (const one of document.querySelectorAll('details')) one.open = 1"
    )
    page.evaluate(AXE.read_text("utf-8"))

    found = page.evaluate("axe.run()")["violations"]

    grave = [
        (one["id"], [node["html"][:200] for node in one["nodes"][:3]])
        for one in found
        if one["impact"] in {"serious", "critical"}
    ]
    assert grave == []
    assert "color-contrast" not in [one["id"] for one in found]
