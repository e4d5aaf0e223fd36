"""The page about water: every set is listed, examples read, findings exist."""

import re
import tomllib
from pathlib import Path

from vrp.agronomy.checks import checks
from vrp.agronomy.water import read_rule_set, rule_sets
from vrp.cli import main
from vrp.io.day_file import told

PAGE = (Path(__file__).parents[1] / "docs" / "water.md").read_text("utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def test_every_set_is_listed():
    """The table of sets has those that ship and no other."""
    rows = re.findall(r"^\| `([a-z0-9-]+)` \| [^|]+ \| [^|]+ \| [^|]+ \|$", PAGE, re.M)
    assert rows == list(rule_sets())


def test_the_whole_file_reads():
    """What the page shows as a whole file is one."""
    (whole,) = (one for one in BLOCKS if one.startswith("id ="))
    rules = read_rule_set(whole, "page")
    assert (len(rules.distance), len(rules.rain)) == (1, 1)


def test_the_day_reads(tmp_path):
    """What the page shows of a day is one."""
    (text,) = (one for one in BLOCKS if one.startswith("units ="))
    path = tmp_path / "day.toml"
    path.write_text(text, "utf-8")
    day = told(path, {}, units="us")
    assert (day.forecast[0].rain, day.worked_in, day.frozen) == (0.3, 24.0, False)


def test_rules_that_the_field_file_names_ship():
    """The id in the example of a field file is one that ships."""
    (text,) = (one for one in BLOCKS if one.startswith("[water]"))
    assert tomllib.loads(text)["water"]["rules"] in rule_sets()


def test_findings_are_findings():
    """Each finding that the page names can come up."""
    named = set(re.findall(r"findings\.md#(rule-[a-z0-9-]+)", PAGE))
    assert named == {code for code in checks() if code.startswith("rule-")}


def test_every_option_is_told():
    """The table names every option of the command."""
    options = {
        name
        for one in main.commands["ready"].params
        for name in (*one.opts, *one.secondary_opts)
        if name.startswith("--") and name != "--json"
    }
    assert set(re.findall(r"`(--[a-z-]+)", PAGE)) == options
