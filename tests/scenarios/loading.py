"""Loading: a scenario file and a seed make one trial.

``fixtures/scenarios/README.md`` says what stands in such a file. Wherever a figure may stand, ``{between: [low,
high]}`` draws one evenly and ``{one_of: [a, b]}`` chooses one; the seed decides, so one file is as many trials as
one likes, and the same seed is always the same trial.
"""

import dataclasses
import enum
import random
import types
import typing
from pathlib import Path
from typing import Any

import yaml

from monitor.plant.build import Build
from monitor.plant.mishaps import Mishap
from monitor.plant.trial import Change, Trial

FOLDER = Path(__file__).parents[2] / "fixtures" / "scenarios"
_HOUR_S = 3600.0
_MONDAY_UTC_S = 1_704_067_200.0


class ScenarioError(ValueError):
    """A scenario file says something that no trial knows: where, what was found, what may stand there."""


def files() -> list[Path]:
    """Return all scenario files, by name."""
    return sorted(FOLDER.glob("*.yaml"))


def all_scenarios(seed: int = 1, *, rough: bool = False) -> list[Trial]:
    """Return one trial of each file."""
    return [load(path, seed, rough=rough) for path in files()]


def load(path: Path | str, seed: int = 1, *, rough: bool = False) -> Trial:
    """Return the trial that this file makes with this seed.

    Args:
        path: a file, or the bare name of one in ``fixtures/scenarios``.
        rough: lay ``rough/plant.yaml`` over the collector: a plant less orderly than any that was tuned on.
    """
    file = FOLDER / f"{path}.yaml" if isinstance(path, str) and not path.endswith(".yaml") else Path(path)
    said = _read(file)
    source = random.Random(f"{seed}/{file.stem}")
    build = _read(FOLDER / "collectors" / f"{said.pop('collector', 'planer')}.yaml")
    if rough:
        build = _merged(build, _read(FOLDER / "rough" / "plant.yaml"))
    build = _merged(build, said.pop("build", {}))
    said.pop("about")
    plain = _drawn({"build": build, **said}, source)
    try:
        return _trial(file.stem, plain, source.getrandbits(32))
    except (TypeError, ValueError, KeyError) as error:
        raise ScenarioError(f"{file.name}: {error}") from error


def _trial(name: str, said: dict[str, Any], seed: int) -> Trial:
    """Turn plain figures into a trial."""
    hours = said.pop("hours", None)
    duration_s = hours * _HOUR_S if hours is not None else said.pop("days") * 24.0 * _HOUR_S
    return Trial(
        name=name,
        seed=seed,
        duration_s=duration_s,
        start_utc_s=_MONDAY_UTC_S + said.pop("start_h", 0.0) * _HOUR_S,
        build=made(Build, said.pop("build"), "build"),
        mishaps=tuple(_mishap(one) for one in said.pop("mishaps", ())),
        changes=tuple(made(Change, one, "changes") for one in said.pop("changes", ())),
        away=tuple((one["from_h"], one["from_h"] + one["lasts_h"]) for one in said.pop("away", ())),
        **said,
    )


def _mishap(said: dict[str, Any]) -> Mishap:
    """Turn one entry into a mishap; ``lasts_h`` instead of ``to_h``, because both ends are drawn."""
    lasts_h = said.pop("lasts_h", None)
    if lasts_h is not None:
        said["to_h"] = said["from_h"] + lasts_h
    return made(Mishap, said, "mishaps")


def made(kind: Any, said: dict[str, Any], where: str) -> Any:
    """Make a dataclass of a mapping, enums and nested ones included.

    Raises:
        ScenarioError: a key or a word that it does not know.
    """
    types_of = typing.get_type_hints(kind)
    known = [field.name for field in dataclasses.fields(kind)]
    unknown = sorted(set(said) - set(known))
    if unknown:
        raise ScenarioError(f"{where}: {unknown[0]} is not known here; there is {', '.join(known)}")
    return kind(**{key: _fitting(types_of[key], value, f"{where}.{key}") for key, value in said.items()})


def _fitting(kind: Any, value: Any, where: str) -> Any:
    if dataclasses.is_dataclass(kind):
        return made(kind, value, where)
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return kind(value)
    if typing.get_origin(kind) is tuple:
        return tuple(value)
    if kind is float or (typing.get_origin(kind) is types.UnionType and value is not None):
        return float(value)
    return value


def _read(file: Path) -> dict[str, Any]:
    try:
        return dict(yaml.safe_load(file.read_text(encoding="utf-8")))
    except (OSError, yaml.YAMLError) as error:
        raise ScenarioError(f"{file}: cannot be read as a scenario: {error}") from error


def _merged(below: dict[str, Any], above: dict[str, Any]) -> dict[str, Any]:
    """Return ``below`` with what ``above`` says otherwise."""
    merged = dict(below)
    for key, value in above.items():
        nested = isinstance(value, dict) and isinstance(merged.get(key), dict) and not _is_draw(value)
        merged[key] = _merged(merged[key], value) if nested else value
    return merged


def _is_draw(said: Any) -> bool:
    return isinstance(said, dict) and set(said) in ({"between"}, {"one_of"})


def _drawn(said: Any, source: random.Random) -> Any:
    """Draw whatever is left to the seed, in the order of the file."""
    if _is_draw(said):
        if "one_of" in said:
            return source.choice(said["one_of"])
        low, high = said["between"]
        return source.uniform(low, high)
    if isinstance(said, dict):
        return {key: _drawn(value, source) for key, value in said.items()}
    return [_drawn(one, source) for one in said] if isinstance(said, list) else said
