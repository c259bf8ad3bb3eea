"""Papers: what the OpenAPI document says of the page's addresses."""

from collections.abc import Mapping
from typing import Any

INDEX: Mapping[str, Any] = {}
FILE: Mapping[str, Any] = {}
PLANT: Mapping[str, Any] = {}
STREAM: Mapping[str, Any] = {}
TRENDS: Mapping[str, Any] = {}
COLLECTOR: Mapping[str, Any] = {}
CHART: Mapping[str, Any] = {}
EVENTS: Mapping[str, Any] = {}
