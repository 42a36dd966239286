"""XML from other hands, made plain: no document type, no entities, no comments, no namespaces.

What is handed on is written anew from the elements, so nothing else of a file survives.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from xml.etree import ElementTree
from xml.parsers import expat

from duskline.core.errors import DusklineError

__all__ = ["XmlRefused", "plain_xml", "written"]

MOST_ELEMENTS = 1_000_000
_DEEPEST = 60
_MOST_ATTRIBUTES = 50


class XmlRefused(DusklineError, ValueError):
    """A file is not read on; ``read`` and ``expected`` say why, ``line`` where if known."""

    def __init__(self, read: str, expected: str, line: int = 0) -> None:
        super().__init__(f"read {read}; expected {expected}")
        self.read = read
        self.expected = expected
        self.line = line


def plain_xml(
    data: bytes,
    *,
    root: str,
    dropped: Collection[str] = (),
    refused: Collection[str] = (),
) -> ElementTree.Element:
    """Return the first element of an XML file with all that is in it; prefixes are dropped.

    Parameters
    ----------
    data
        The file.
    root
        What its first element must be called.
    dropped
        Elements left out with all that is in them.
    refused
        Elements for which the whole file is refused.

    Raises
    ------
    XmlRefused
        Not XML; another root; a document type or an entity; too deep or too many elements;
        one of ``refused``.
    """
    maker = _Maker(root=root, dropped=frozenset(dropped), refused=frozenset(refused))
    parser: Any = expat.ParserCreate(namespace_separator=" ")
    maker.watch(parser)
    try:
        parser.Parse(data, True)
        return maker.close()
    except (expat.ExpatError, AssertionError, ValueError, LookupError) as wrong:
        if isinstance(wrong, XmlRefused):
            wrong.line = wrong.line or parser.CurrentLineNumber
            raise
        line = getattr(wrong, "lineno", 0)
        raise XmlRefused("XML with a slip in it", f"a whole {root.upper()} file", line) from wrong


def written(top: ElementTree.Element, *, namespace: str) -> bytes:
    """Return an element as a file of one namespace."""
    top.set("xmlns", namespace)
    text: bytes = ElementTree.tostring(top, encoding="utf-8", xml_declaration=True)
    return text


class _Maker:
    """Builds the tree from what the parser meets."""

    def __init__(self, *, root: str, dropped: frozenset[str], refused: frozenset[str]) -> None:
        self._builder = ElementTree.TreeBuilder()
        self._root, self._dropped, self._refused = root, dropped, refused
        self._depth, self._elements, self._dropped_at = 0, 0, 0

    def watch(self, parser: Any) -> None:
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text
        parser.StartDoctypeDeclHandler = self._doctype
        parser.EntityDeclHandler = self._doctype
        parser.UnparsedEntityDeclHandler = self._doctype
        parser.ExternalEntityRefHandler = self._doctype
        parser.buffer_text = True

    def close(self) -> ElementTree.Element:
        return self._builder.close()

    def _doctype(self, *_: object) -> int:
        raise XmlRefused("a document type or an entity", f"a plain {self._root.upper()} file")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition(" ")[2]
        self._depth += 1
        self._elements += 1
        if self._elements == 1 and name != self._root:
            raise XmlRefused(f"a file of <{name[:40]}>", f"a file of <{self._root}>")
        if self._depth > _DEEPEST or self._elements > MOST_ELEMENTS:
            raise XmlRefused("more than can be field outlines", "the outlines of a farm")
        if name in self._refused:
            raise XmlRefused(
                f"a link to another place (<{name}>)", "the outlines themselves in this file"
            )
        if self._dropped_at or name in self._dropped:
            self._dropped_at = self._dropped_at or self._depth
            return
        plain = {key: value for key, value in attributes.items() if " " not in key}
        if len(plain) > _MOST_ATTRIBUTES:
            raise XmlRefused("more than can be field outlines", "the outlines of a farm")
        self._builder.start(name, plain)

    def _end(self, tag: str) -> None:
        dropping, self._depth = self._dropped_at, self._depth - 1
        if dropping:
            if dropping == self._depth + 1:
                self._dropped_at = 0
            return
        self._builder.end(tag.rpartition(" ")[2])

    def _text(self, text: str) -> None:
        if not self._dropped_at:
            self._builder.data(text)
