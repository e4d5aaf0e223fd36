"""Planted faults in the page: a figure that it shows otherwise is found and named."""

import re
import shutil

import pytest

from vrp import job
from vrp.io import page_file
from vrp.io.verify import verify

PAGE = "report.html"


@pytest.fixture(scope="module")
def whole(sample_fields, tmp_path_factory):
    """Return what a sample field came to, and its folder."""
    return job.run(sample_fields / "us", out=tmp_path_factory.mktemp("page") / "out")


@pytest.fixture
def out(whole, tmp_path):
    return shutil.copytree(whole[1], tmp_path / "out")


def changed(out, old, new):
    """Change what the page says, and return what is found wrong with it."""
    path = out / PAGE
    text = path.read_text("utf-8")
    spoilt = re.sub(old, new, text, count=1)
    assert spoilt != text
    path.write_text(spoilt, "utf-8", newline="\n")
    (check,) = [one for one in verify(out).checks if one.file == PAGE]
    assert check.faults[-1] == f"{PAGE} was changed after vrp wrote it"
    return check.faults[:-1]


def test_figures_of_a_page_by_hand(tmp_path):
    """Zones, sums, rates of the map and the digest are read where they stand."""
    path = tmp_path / PAGE
    path.write_text(
        '<html data-digest="ab"><a href="#zone-7" data-rate="90.0">x</a>'
        '<table><tr><td data-sum="zones"><data data-name="product" value="1234.5">'
        "1,234</data></td></tr></table>"
        '<table><tr data-zone="7"><td><data data-name="rate_lb_ac" value="90.0">'
        '90</data></td><td><data data-name="stp_class" value="a &lt;b&gt;">a &lt;b&gt;'
        "</data></td></tr></table></html>",
        "utf-8",
    )

    held = page_file.read(path)

    assert held.digest == "ab"
    assert held.rates == [("#zone-7", "90.0")]
    assert held.sums == {"zones": {"product": page_file.Shown("1234.5", "1,234")}}
    assert held.zones == [
        (
            7,
            {
                "rate_lb_ac": page_file.Shown("90.0", "90"),
                "stp_class": page_file.Shown("a <b>", "a <b>"),
            },
        )
    ]


def test_rate_shown_otherwise(out, whole):
    """A rate whose text was changed is named with what it should be."""
    rate = whole[0].zones[0].rate
    old = rf'(data-name="rate_lb_ac" value="{rate!r}">){rate:g}<'

    (fault,) = changed(out, old, r"\g<1>999<")

    assert fault == (
        f"{PAGE}, zone 1: rate_lb_ac is shown as '999', which is not {rate!r}"
    )


def test_rate_meant_otherwise(out, whole):
    """A rate whose value was changed is named, with both."""
    rate = whole[0].zones[0].rate
    old = rf'data-name="rate_lb_ac" value="{rate!r}"'

    (fault,) = changed(out, old, 'data-name="rate_lb_ac" value="1.0"')

    assert fault == f"{PAGE}, zone 1: rate_lb_ac reads '1.0', not '{rate!r}'"


def test_total_shown_otherwise(out):
    """A total that is shown as another is named."""
    (fault,) = changed(
        out, r'(<td data-sum="zones"><data data-name="product" [^>]*>)[\d,]+', r"\g<1>7"
    )

    assert fault.startswith(f"{PAGE}, zones: product is shown as '7', which is not ")


def test_zone_left_out(out):
    """A row that is missing is named by its zone."""
    faults = changed(out, r'(?s)<tr data-zone="2">.*?</tr>', "")

    assert faults[0].endswith("zone 2 is missing")


def test_rate_left_out(out, whole):
    """A row without its rate is named, with the rate that it lacks."""
    rate = whole[0].zones[0].rate

    (fault,) = changed(out, r'<data data-name="rate_lb_ac"[^<]*</data>', "")

    assert fault == f"{PAGE}, zone 1: has no rate_lb_ac, not {rate!r}"


def test_rate_on_the_map(out):
    """A zone of the map with another rate is found."""
    (fault,) = changed(out, r'data-rate="[^"]*"', 'data-rate="1.0"')

    assert fault == f"{PAGE}: the rates of the map are not those of the zones"


def test_page_of_another_record(out):
    """A page that was made with another record is found by the record's digest."""
    (fault,) = changed(out, r'data-digest="\w+"', f'data-digest="{"0" * 64}"')

    assert fault.startswith(f"{PAGE} is of the record 00000000, not ")


def test_no_page_at_all(out):
    """A page that is gone is missed, since the record lists it."""
    (out / PAGE).unlink()

    (check,) = [one for one in verify(out).checks if one.file == PAGE]

    assert check.faults == (f"{PAGE} is missing",)
