"""The OpenAPI document: valid, of the table and nothing else, and its commands are those that are published."""

import json
from pathlib import Path

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from monitor.tell import web_schemas
from monitor.tell.web_openapi import document, markdown
from monitor.tell.web_table import Right
from tests.tell.page_table import page_table
from tests.tell.visiting import ELSEWHERE, Mill, everything

TABLE = everything()
DOCUMENT = document(TABLE, "1.2.3")
PUBLISHED = json.loads((Path(__file__).parents[2] / "config" / "commands.schema.json").read_text(encoding="utf-8"))


def test_it_is_valid():
    OpenAPIV31SpecValidator(DOCUMENT).validate()


def test_it_has_every_address_and_no_other():
    told = {(method.upper(), path) for path, methods in DOCUMENT["paths"].items() for method in methods}

    assert told == {(one.method, one.path) for one in TABLE}


@pytest.mark.parametrize("address", TABLE, ids=lambda one: f"{one.method} {one.path}")
def test_each_says_what_it_is_for_what_it_answers_and_who_may(address):
    told = DOCUMENT["paths"][address.path][address.method.lower()]

    assert told["summary"] == address.says
    assert told["responses"]
    assert (told["security"] == []) is (address.right in (Right.ANYBODY, Right.LINK))
    named = {one["name"] for one in told.get("parameters", []) if one["in"] == "path"}
    assert all(f"{{{name}}}" in address.path for name in named)
    assert address.path.count("{") == len(named)


def test_it_is_served_to_whoever_may_look_as_json():
    with Mill(addresses=page_table()) as mill:
        status, headers, body = mill.ask("GET", "/api/v1/openapi.json")
        assert mill.ask("GET", "/api/v1/openapi.json", None, ELSEWHERE)[0] == 401

    assert (status, headers["content-type"]) == (200, "application/json")
    assert json.loads(body)["paths"] == DOCUMENT["paths"]


def test_a_commands_keys_and_words_are_those_of_the_published_schema():
    ours = web_schemas.COMMANDS["requestBody"]["content"]["application/json"]["schema"]["properties"]
    answer = web_schemas.COMMANDS["responses"]["200"]["content"]["application/json"]["schema"]["properties"]
    command, told = PUBLISHED["$defs"]["command"]["properties"], PUBLISHED["$defs"]["answer"]["properties"]

    assert set(ours) == set(command)
    assert set(ours["command"]["enum"]) == set(command["command"]["enum"])
    assert set(answer) == set(told)
    assert set(answer["code"]["enum"]) == set(told["code"]["enum"])
    assert set(answer["state"]["enum"]) == set(told["state"]["enum"])


def test_the_table_for_people_has_a_row_for_each():
    rows = markdown(TABLE).splitlines()[2:]

    assert len(rows) == len(TABLE)
    assert all(row.count("|") == 4 for row in rows)
    for one in TABLE:
        assert any(f"`{one.method} {one.path}`" in row for row in rows)
