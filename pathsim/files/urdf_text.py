"""A robot description file (URDF, an open format) as a tree with line numbers, read safely.

Document type declarations are forbidden (an entity could name any file or fill the memory),
and only the elements that decide where links are and what they look like are understood.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass, field
from typing import Any
from xml.sax import SAXException
from xml.sax.handler import ContentHandler

from pathsim.files.faults import FaultList, did_you_mean

_LARGEST_FILE = 8_000_000  # bytes
_MOST_NODES = 50_000
_FARTHEST = 100.0  # m


@dataclass
class Node:
    """One element: its tag, attributes, children and line."""

    tag: str
    attributes: dict[str, str]
    line: int
    children: list[Node] = field(default_factory=list)

    def all(self, tag: str) -> list[Node]:
        """Return the children with a tag."""
        return [child for child in self.children if child.tag == tag]

    def first(self, tag: str) -> Node | None:
        """Return the first child with a tag, None when there is none."""
        return next(iter(self.all(tag)), None)


class _Builder(ContentHandler):
    """Builds nodes while the parser reads."""

    def __init__(self) -> None:
        super().__init__()
        self.root: Node | None = None
        self._open: list[Node] = []
        self._count = 0

    def startElement(self, name: str, attrs: Any) -> None:  # noqa: N802 - the parser's name
        self._count += 1
        if self._count > _MOST_NODES:
            raise SAXException(f"it has more than {_MOST_NODES} elements")
        line = int(self._locator.getLineNumber())  # type: ignore[attr-defined]
        node = Node(name, dict(attrs.items()), line)
        if self._open:
            self._open[-1].children.append(node)
        else:
            self.root = node
        self._open.append(node)

    def endElement(self, name: str) -> None:  # noqa: ARG002, N802 - the parser's name
        self._open.pop()


def parse_urdf(raw: bytes, shown: str, faults: FaultList) -> Node | None:
    """Return the ``robot`` element; None after noting what is wrong."""
    from defusedxml.common import DefusedXmlException
    from defusedxml.sax import parse

    if len(raw) > _LARGEST_FILE:
        faults.add(shown, None, "", f"has {len(raw)} bytes", f"at most {_LARGEST_FILE} bytes")
        return None
    builder = _Builder()
    try:
        parse(io.BytesIO(raw), builder, forbid_dtd=True)
    except DefusedXmlException as error:
        came = f"it declares a document type or entity ({type(error).__name__})"
        faults.add(shown, None, "", came, "plain XML without declarations")
        return None
    except (SAXException, ValueError, LookupError) as error:
        line = getattr(error, "getLineNumber", lambda: None)()
        what = str(error.getMessage() if hasattr(error, "getMessage") else error)
        faults.add(shown, line, "", f"is no valid XML: {what}", "a URDF file")
        return None
    if builder.root is None or builder.root.tag != "robot":
        tag = "nothing" if builder.root is None else f"<{builder.root.tag}>"
        faults.add(shown, 1, "", f"came {tag}", "<robot> as the outermost element")
        return None
    return builder.root


class Reader:
    """Reads attributes of nodes and notes what cannot be read."""

    def __init__(self, shown: str, faults: FaultList) -> None:
        self.shown, self.faults = shown, faults

    def fault(self, node: Node, came: str, expected: str, cure: str = "") -> None:
        """Note a fault at a node."""
        name = node.attributes.get("name")
        key = f"<{node.tag} name='{name}'>" if name else f"<{node.tag}>"
        self.faults.add(self.shown, node.line, key, came, expected, cure)

    def text(self, node: Node, name: str) -> str | None:
        """Return an attribute that must be there and not empty."""
        value = node.attributes.get(name, "").strip()
        if not value:
            self.fault(node, f"has no '{name}'", f"'{name}' with a value")
            return None
        return value

    def only(self, node: Node, names: tuple[str, ...]) -> None:
        """Note attributes that are not understood: they would be dropped in silence."""
        for name in node.attributes:
            if name not in names:
                cure = did_you_mean(name, names)
                self.fault(node, f"came '{name}'", ", ".join(names), cure)

    def numbers(
        self, node: Node, name: str, count: int, default: tuple[float, ...] | None = None
    ) -> tuple[float, ...] | None:
        """Return ``count`` finite numbers of an attribute."""
        text = node.attributes.get(name)
        if text is None and default is not None:
            return default
        try:
            values = tuple(float(part) for part in (text or "").split())
        except ValueError:
            values = ()
        if len(values) != count or not all(math.isfinite(v) for v in values):
            self.fault(node, f"came {name}='{text}'", f"{count} finite number(s)")
            return None
        if max(abs(v) for v in values) > 1e6:
            self.fault(node, f"came {name}='{text}'", "numbers that can be meant")
            return None
        return values
