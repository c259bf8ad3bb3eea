"""The JSON Schema: the one in config/ is the one the code means, and the examples keep it."""

import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from monitor.site import schema
from monitor.site.load import load
from monitor.site.shape.whole import SiteFile
from monitor.site.unknown_keys import keys_at

CONFIG = Path(__file__).parents[2] / "config"
EXAMPLES = sorted(CONFIG.glob("*.yaml"))
VALIDATOR = jsonschema.Draft202012Validator(schema.json_schema())


def faults(text: str) -> list[str]:
    return [f"{list(error.path)}: {error.message}" for error in VALIDATOR.iter_errors(yaml.safe_load(text))]


def test_the_schema_in_config_is_the_one_the_code_means():
    assert (CONFIG / "site.schema.json").read_text(encoding="utf-8") == schema.as_text(), (
        "run: cakewatch check --schema > config/site.schema.json"
    )


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(json.loads(schema.as_text()))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_keeps_the_schema(path):
    text = path.read_text(encoding="utf-8")

    assert text.startswith("# yaml-language-server: $schema=site.schema.json\n")
    assert faults(text) == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_is_valid_and_raises_no_warning(path):
    assert load(path, {}).warnings == ()


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("above: 7 inH2O", "above: 7"),
        ("above: 7 inH2O", "above: 7 s"),
        ("above: 7 inH2O", "abov: 7 inH2O"),
        ("priority: high", "priority: hihg"),
        ("host: 127.0.0.1", "serial_port: /dev/ttyS0"),
        ("unit_id: 1", "unit_id: 256"),
        ("      encoding: uint16\n", ""),
        ("reference_number: 30001", "address: 0"),
        ("reference_number: 30001", "reference_number: 30001\n      protocol_address: 0\n      table: coil"),
    ],
)
def test_an_editor_sees_the_fault_while_one_types(right, wrong):
    text = (CONFIG / "first-transmitter.yaml").read_text(encoding="utf-8")

    assert right in text
    assert faults(text.replace(right, wrong)) != []


def every_key() -> set[str]:
    """Every key of every block, from the definitions of the schema."""
    definitions = schema.json_schema()["$defs"]
    return {key for block in definitions.values() for key in block["properties"]} | set(SiteFile.model_fields)


def test_every_key_stands_in_the_annotated_reference():
    text = (CONFIG / "site.example.yaml").read_text(encoding="utf-8")
    missing = {key for key in every_key() if f"{key}:" not in text}

    assert missing == set()


def test_every_key_is_described():
    undescribed = [
        f"{name}.{key}"
        for name, block in schema.json_schema()["$defs"].items()
        for key, item in block["properties"].items()
        if not item.get("description") and "$ref" not in item
    ]

    assert undescribed == []


def test_the_keys_of_a_block_are_found_by_its_place():
    assert "on_delay" in keys_at(SiteFile, ("collectors", "DC-101", "bands", "PDAH-101"))
    assert "at_4_ma" in keys_at(SiteFile, ("collectors", "DC-101", "dp", "loop"))
    assert "serial_port" in keys_at(SiteFile, ("links", "x"))


@pytest.mark.parametrize("name", ["site.schema.json", "site.example.yaml"])
def test_the_inch_that_nist_does_not_publish_is_said_to_be_computed(name):
    assert "from water of 998.2071 kg/m³" in (CONFIG / name).read_text(encoding="utf-8")
