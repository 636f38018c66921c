"""YAML with the line of every key, and pydantic's findings turned into faults."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from pathsim.files.contents import Contents
from pathsim.files.faults import FaultList, did_you_mean, likely
from pathsim.files.plain_models import without_plugins
from pathsim.files.yaml_words import in_words

_LARGEST_FILE = 4_000_000  # bytes
Model = TypeVar("Model", bound=BaseModel)
Location = tuple[str | int, ...]


@dataclass(frozen=True, eq=False)
class YamlSource:
    """A parsed file: its name for messages, its contents, and a hash of its bytes."""

    shown: str
    data: Any
    digest: bytes

    def line(self, location: Location) -> int | None:
        """Line (from 1) of the deepest part of ``location`` that the file has."""
        node, line = self.data, 1
        for part in location:
            try:
                if isinstance(node, CommentedMap) and part in node:
                    line = node.lc.key(part)[0] + 1
                elif isinstance(node, CommentedSeq) and isinstance(part, int):
                    line = node.lc.item(part)[0] + 1
                else:
                    break
                node = node[part]
            except (KeyError, IndexError, TypeError, AttributeError):
                break
        return line

    def value(self, location: Location) -> Any:
        """Return what the file has at ``location``, None when it has nothing there."""
        node = self.data
        for part in location:
            try:
                node = node[part]
            except (KeyError, IndexError, TypeError):
                return None
        return node


def read_yaml(path: Path, shown: str, contents: Contents, faults: FaultList) -> YamlSource | None:
    """Read a YAML file; a fault and None when it cannot be read or is no mapping."""
    try:
        raw = contents.read(path)
    except FileNotFoundError:
        near = did_you_mean(path.name, [p.name for p in _siblings(path)])
        faults.add(shown, None, "", "the file is missing", "a file of this name", near)
        return None
    except OSError as error:
        faults.add(shown, None, "", f"cannot be read ({error.strerror})", "a readable file")
        return None
    if len(raw) > _LARGEST_FILE:
        faults.add(shown, None, "", f"has {len(raw)} bytes", f"at most {_LARGEST_FILE} bytes")
        return None
    try:
        data = YAML(typ="rt").load(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        came = "the line has a letter that is not UTF-8 text"
        faults.add(
            shown,
            raw[: error.start].count(b"\n") + 1,
            "",
            came,
            "UTF-8 text",
            "Save the file as UTF-8.",
        )
        return None
    except MarkedYAMLError as error:
        line, came, expected, cure = in_words(error, raw.decode("utf-8-sig"))
        faults.add(shown, line, "", came, expected, cure)
        return None
    except (YAMLError, ValueError, RecursionError) as error:
        faults.add(shown, None, "", f"is no valid YAML: {type(error).__name__}", "YAML 1.2")
        return None
    if not isinstance(data, CommentedMap):
        faults.add(shown, 1, "", "the file is empty or no mapping", "keys with values")
        return None
    return YamlSource(shown, data, hashlib.sha256(raw).digest())


def _siblings(path: Path) -> list[Path]:
    return sorted(path.parent.iterdir()) if path.parent.is_dir() else []


def validated(model: type[Model], source: YamlSource, faults: FaultList) -> Model | None:
    """Return ``source`` as ``model``, or None after noting every fault that pydantic found."""
    try:
        with without_plugins():
            return model.model_validate(source.data)
    except ValidationError as error:
        details = error.errors()
        strange = {tuple(d["loc"]) for d in details if d["type"] == "extra_forbidden"}
        for detail in details:
            if not _is_mistyped(detail, strange, model):
                _note(detail, source, faults, model)
        return None


def read_validated(
    path: Path,
    shown: str,
    model: type[Model],
    contents: Contents,
    faults: FaultList,
) -> tuple[YamlSource, Model] | None:
    """Read a file as ``model`` and note its hash in ``contents``; None after noting its faults."""
    source = read_yaml(path, shown, contents, faults)
    if source is None:
        return None
    contents.digests[shown] = source.digest
    file = validated(model, source, faults)
    return None if file is None else (source, file)


def _is_mistyped(detail: Any, strange: set[Location], model: type[BaseModel]) -> bool:
    """Tell whether a key is missing only because it is mistyped, which is said of that."""
    location = tuple(detail["loc"])
    if detail["type"] != "missing":
        return False
    known = _known_keys(model, location[:-1])
    beside = [str(one[-1]) for one in strange if one[:-1] == location[:-1]]
    return any(likely(word, known) == location[-1] for word in beside)


def _note(detail: Any, source: YamlSource, faults: FaultList, model: type[BaseModel]) -> None:
    location = tuple(part for part in detail["loc"] if not _is_tag(part, source, detail["loc"]))
    key = key_path(location)
    line = source.line(location)
    kind, message = detail["type"], str(detail["msg"])
    if kind == "extra_forbidden":
        known = _known_keys(model, location[:-1])
        cure = did_you_mean(str(location[-1]), known)
        expected = "one of: " + ", ".join(known) if known else "no such key"
        if detail["input"] is None and str(location[-1])[:1].isdigit():
            cure = "A comma parts entries: write decimals with a point, as in 1000.4."
        faults.add(source.shown, line, key, "this key is not known", expected, cure)
        return
    if kind == "missing":
        present = [str(k) for k in source.value(location[:-1]) or []]
        cure = did_you_mean(str(location[-1]), present)
        expected = _example(model, location) or "a value"
        faults.add(source.shown, source.line(location[:-1]), key, "is missing", expected, cure)
        return
    if detail["input"] is None and (example := _example(model, location)):
        faults.add(source.shown, line, key, "has no value yet", example)
        return
    came = f"came {_in_words(detail['input'])}"
    if kind == "value_error":
        text = str(detail["ctx"]["error"])
        came, _, expected = text.partition("; expected ")
        faults.add(source.shown, line, key, came, expected or "a value that can be used")
        return
    expected = message.removeprefix("Input should be ")
    if kind == "string_type":
        expected = "text, in quotes if it is a number"
        if location[-1] == "speed":
            came = f"{detail['input']} has no unit"
            expected = "a speed such as '6 mm/s', or of joint moves a share such as '40 %'"
    if kind in _SHAPES:
        expected = _example(model, location) or _SHAPES[kind]
    cure = ""
    if kind == "enum":
        choices = [part.strip("' ") for part in expected.replace(" or ", ", ").split(",")]
        cure = did_you_mean(str(detail["input"]), choices)
    faults.add(source.shown, line, key, came, expected, cure)


#: What a place in a file asks for, by the validator's kinds.
_KEYS = "keys with their values, 'key: value'"
_SHAPES = {
    "model_type": _KEYS, "model_attributes_type": _KEYS, "dict_type": _KEYS,
    "list_type": "a list, one entry a line after '- '",
}  # fmt: skip


def _in_words(value: object) -> str:
    """Say what stands in a file."""
    if isinstance(value, str | int | float | bool) or value is None:
        return repr(value)
    return "a list" if isinstance(value, list | tuple) else "keys with values"


def _is_tag(part: str | int, source: YamlSource, loc: Location) -> bool:
    """Tell whether a part is pydantic's own (a union's tag, a validator), not the file's."""
    return isinstance(part, str) and ("[" in part and "]" in part) and source.value(loc) is None


def key_path(location: Iterable[str | int]) -> str:
    """Write a key's place as in ``bodies[2].mesh``; counted from 1, as people do."""
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _example(model: type[BaseModel], location: Location) -> str:
    """Return an example of a file's own key, as the record gives it; empty when it gives none."""
    if len(location) != 1:
        return ""
    for name, field in model.model_fields.items():
        if location[0] in (name, field.alias) and field.examples:
            return f"for example '{field.examples[0]}'"
    return ""


def _known_keys(model: type[BaseModel], location: Location) -> list[str]:
    """Keys that the model at ``location`` takes, by the names the file uses."""
    current: Any = model
    for part in location:
        if isinstance(part, int) or not _is_model(current):
            continue
        for name, field in current.model_fields.items():
            if part in (name, field.alias):
                current = _model_inside(field.annotation)
                break
    if not _is_model(current):
        return []
    return [field.alias or name for name, field in current.model_fields.items()]


def _is_model(value: Any) -> bool:
    return isinstance(value, type) and issubclass(value, BaseModel)


def _model_inside(annotation: Any) -> Any:
    """Return the model in an annotation such as ``list[BodyEntry]`` or ``X | None``."""
    if _is_model(annotation):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_inside(inner)
        if found is not None:
            return found
    return None
