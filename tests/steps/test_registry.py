"""The registry: explicit, loud, and light to import."""

from __future__ import annotations

import dataclasses
import subprocess
import sys

import pytest

from pipeline.core.errors import Refused
from pipeline.core.place import Place
from pipeline.steps.registry import KINDS, kind_of, registered


def test_the_kinds_are_those_of_the_job() -> None:
    """The closed list of the blueprint (section 3), each once."""
    blueprint = (
        "outline offset cavity channel holes chambers stack carved template cover gauges fretboard mould coupon"
    )
    assert sorted(KINDS) == sorted(blueprint.split())


def test_double_registration_is_loud() -> None:
    """Two kinds of one name can't both be meant."""
    with pytest.raises(ValueError, match="two step kinds are called 'holes'"):
        registered((KINDS["holes"], KINDS["holes"]))


def test_an_unknown_kind_names_the_nearest() -> None:
    """With the place of the word."""
    with pytest.raises(Refused) as caught:
        kind_of("cavty", Place(file="r.yaml", line=3, column=9))
    assert "r.yaml:3:9" in caught.value.show()
    assert "cavity, perhaps?" in caught.value.show()


@pytest.mark.parametrize("name", sorted(KINDS))
def test_every_field_has_a_sentence(name: str) -> None:
    """Specs are frozen dataclasses whose every field says what it is, nested ones too."""
    todo: list[type] = [KINDS[name].spec]
    while todo:
        spec = todo.pop()
        assert dataclasses.is_dataclass(spec)
        assert spec.__dataclass_params__.frozen  # type: ignore[attr-defined]
        for f in dataclasses.fields(spec):
            assert f.metadata["doc"], f"{name}.{f.name}"
    assert KINDS[name].summary


def test_importing_the_registry_loads_no_geometry() -> None:
    """The schema and the reader's checks must not pay for numpy or shapely."""
    code = "import sys, pipeline.steps.registry; print(sorted({'numpy','shapely','yaml'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", sorted(KINDS))
def test_every_kind_has_its_work(name: str) -> None:
    """The module and function that a kind names exist."""
    from importlib import import_module

    module, _, function = KINDS[name].maker.partition(":")
    assert callable(getattr(import_module(module), function))
