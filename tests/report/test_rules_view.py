"""Rules on water in the terminal: the list, one set, and JSON."""

import io
import json

import jsonschema

from vrp.agronomy.water import ENDS_WITH, rule_set, rule_sets, schema
from vrp.report import rules_view


def shown(view, *arguments, as_json=False):
    file = io.StringIO()
    view(*arguments, as_json=as_json, file=file)
    return file.getvalue()


def test_the_list_names_every_set_and_ends_with_the_law():
    """Each set that ships is named, and no page may be taken for a permit."""
    text = shown(rules_view.listing)
    assert all(name in text for name in rule_sets())
    assert " ".join(text.split()).endswith(ENDS_WITH)


def test_a_set_shows_every_rule_with_its_status():
    """Text, figure, what it binds, status and place stand with each rule."""
    text = " ".join(shown(rules_view.one, rule_set("ohio-western-lake-erie")).split())
    assert "chance above 50 percent of more than 1 in of rain within 12 hours" in text
    assert "forbids; granular fertilizer, on the surface" in text
    assert "not on a growing crop" in text
    assert "read: ANR-0156, for fertilizers: greater than 50 percent" in text
    assert text.endswith(ENDS_WITH)


def test_json_of_a_set_fits_its_schema():
    """What `vrp rules ID --json` prints is described by the schema that ships."""
    for rules in rule_sets().values():
        plain = json.loads(shown(rules_view.one, rules, as_json=True))
        jsonschema.validate(plain, schema())


def test_json_of_the_list_counts_rules():
    """Minnesota's summary has a table of seven distances here."""
    listed = json.loads(shown(rules_view.listing, as_json=True))
    assert listed["minnesota-7020-manure"]["decides"] == {"Distances": 7}
