"""Block: what every block of keys in the site file has in common."""

from enum import StrEnum
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema


class Block(BaseModel):
    """A block of keys: unknown keys are faults, and defaults are read as if they stood in the file."""

    model_config = ConfigDict(extra="forbid", validate_default=True, frozen=True, hide_input_in_errors=True)


def defaulting(written: str, description: str) -> Any:
    """Return a key with a default, given as it would stand in the file and read in the same way."""
    return Field(default=written, description=description)


def optional(description: str) -> Any:
    """Return a key that may be left out and then is None."""
    return Field(default=None, validate_default=False, description=description)


class OrNone:
    """Annotates a block that may be switched off by the word ``none`` (or ``off``) in its place."""

    words = ("none", "off")

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Read one of the words as None before the block is read."""
        return core_schema.no_info_before_validator_function(self._without_word, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Offer the word in place of JSON's null, which the site file does not know."""
        offered: dict[str, Any] = handler(schema)
        options = [option for option in offered["anyOf"] if option != {"type": "null"}]
        return {"anyOf": [*options, {"enum": list(self.words)}]}

    def _without_word(self, value: Any) -> Any:
        return None if value in self.words else value


class AllOrSome:
    """Annotates blocks by the members of an enum: ``all`` is each as it is by default, ``none`` is none."""

    def __init__(self, members: type[StrEnum]) -> None:
        self._members = members

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Read one of the words as blocks before they are read."""
        return core_schema.no_info_before_validator_function(self._without_word, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Offer the words beside the blocks."""
        return {"anyOf": [handler(schema), {"enum": ["all", "none"]}]}

    def _without_word(self, value: Any) -> Any:
        if value == "all":
            return {member.value: {} for member in self._members}
        return {} if value == "none" else value
