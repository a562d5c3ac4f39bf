"""An SVG file as a tree of elements, parsed so that nothing in it can reach outside or swell up."""

from __future__ import annotations

import re
import zlib
from typing import Any

from lxml import etree

from app.artwork.limits import Limits
from app.errors import DamagedFile, ReadError, UnsupportedFile

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"

_EMBEDDED = re.compile(rb"data:[A-Za-z0-9/+.;=-]{0,100};base64,[A-Za-z0-9+/=\s]+")
_ENTITY = re.compile(rb"<!ENTITY\s+(%\s+)?[^\s>]+\s+(?:(SYSTEM|PUBLIC)\b|\"([^\"]*)\"|'([^']*)')")
_ENTITY_TEXT = 4_000  # characters that all entities of a file may hold together
_XML = etree.ErrorTypes
# What the parser's errors mean to a person.
_WRONG = (
    ({_XML.ERR_DOCUMENT_EMPTY}, "there is no drawing in it"),
    ({_XML.ERR_TAG_NOT_FINISHED, _XML.ERR_DOCUMENT_END, _XML.ERR_LTSLASH_REQUIRED}, "it ends before its drawing does"),
    ({_XML.ERR_TAG_NAME_MISMATCH}, "an element is closed under another name"),
    (
        {
            _XML.ERR_ATTRIBUTE_NOT_STARTED,
            _XML.ERR_ATTRIBUTE_NOT_FINISHED,
            _XML.ERR_ATTRIBUTE_WITHOUT_VALUE,
            _XML.ERR_ATTRIBUTE_REDEFINED,
            _XML.ERR_LT_IN_ATTRIBUTE,
            _XML.ERR_NAME_REQUIRED,
            _XML.ERR_SPACE_REQUIRED,
            _XML.ERR_GT_REQUIRED,
        },
        "an element is not written to its end, or has a broken attribute",
    ),
    ({_XML.ERR_UNDECLARED_ENTITY, _XML.WAR_UNDECLARED_ENTITY, _XML.ERR_ENTITY_LOOP}, "a shorthand in it has no text"),
    ({_XML.NS_ERR_UNDEFINED_NAMESPACE}, "a prefix is not declared"),
    (
        {_XML.ERR_INVALID_CHAR, _XML.ERR_INVALID_ENCODING, _XML.ERR_UNSUPPORTED_ENCODING, _XML.ERR_UNKNOWN_ENCODING},
        "a character in it is none that XML allows",
    ),
)
_ENCODING = re.compile(r"^(\s*<\?xml[^>]*?)\s+encoding\s*=\s*(\"[^\"]*\"|'[^']*')")


def parse_svg(data: bytes, name: str, limits: Limits) -> Any:
    """Root element of an SVG file, packed (svgz) or not.

    Small internal entities, which drawing programs use to shorten namespaces, are written out. Entities that hold
    other entities, reach outside the file or are long are refused.

    Raises
    ------
    DamagedFile
        If it is no well-formed XML, or declares harmful entities.
    UnsupportedFile
        If it is XML but not SVG.
    """
    if data[:2] == b"\x1f\x8b":
        data = unpack(data, name, limits)
    data = _as_utf8(data)
    # Embedded pictures are the one thing in honest files that exceeds the parser's own safe limits.
    data = _EMBEDDED.sub(b"data:,", data)
    _refuse_harmful_entities(data, name)
    parser = etree.XMLParser(
        resolve_entities="internal",
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        attribute_defaults=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
        recover=False,
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        raise DamagedFile(f"{name} is not a whole SVG file: {_in_words(error)}; save it again as SVG") from error
    except ValueError as error:
        raise DamagedFile(f"{name} is not a whole SVG file: its text is broken; save it again as SVG") from error
    if local_name(root) != "svg":
        raise UnsupportedFile(
            f"{name} is XML but no SVG drawing: its outermost element is <{etree.QName(root).localname}>"
        )
    return root


def local_name(element: Any) -> str:
    """Name of an SVG element without its namespace; empty for elements of other vocabularies."""
    tag = element.tag
    if not isinstance(tag, str):
        return ""
    if not tag.startswith("{"):
        return tag
    space, _, rest = tag[1:].partition("}")
    return rest if space == SVG else ""


def label(element: Any) -> str:
    """What people call a group: a ``label`` attribute of any vocabulary, else its id; empty when it has neither."""
    for key, value in element.attrib.items():
        if key.rpartition("}")[2] == "label" and value.strip():
            return str(value).strip()
    return str(element.get("id", "")).strip()


def reference(element: Any) -> str:
    """Target of a reference, with or without the old xlink namespace."""
    return str(element.get("href") or element.get(f"{{{XLINK}}}href") or "").strip()


def unpack(data: bytes, name: str, limits: Limits) -> bytes:
    """Content of gzip data, taken in steps so that a bomb is stopped at the limit.

    Raises
    ------
    DamagedFile
        If the packing is broken or cut short.
    ReadError
        If it grows beyond `Limits.file_bytes`.
    """
    worker = zlib.decompressobj(wbits=31)
    pieces: list[bytes] = []
    size = 0
    rest = data
    try:
        while not worker.eof:
            piece = worker.decompress(rest, 1 << 22)
            rest = worker.unconsumed_tail
            if not piece and not rest:
                break
            size += len(piece)
            if size > limits.file_bytes:
                raise ReadError(
                    f"{name} unpacks to more than {limits.file_bytes / 1e6:.0f} MB, the limit in the settings"
                )
            pieces.append(piece)
    except zlib.error as error:
        raise DamagedFile(f"{name} is packed but its packing is broken; save it again without compression") from error
    if not worker.eof:
        raise DamagedFile(f"{name} is packed and cut short; copy it again")
    return b"".join(pieces)


def _as_utf8(data: bytes) -> bytes:
    for mark, encoding in (
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
        (b"<\x00", "utf-16-le"),
        (b"\x00<", "utf-16-be"),
    ):
        if data.startswith(mark):
            text = data.decode(encoding, errors="replace")
            return _ENCODING.sub(r"\1", text, count=1).encode("utf-8")
    return data.removeprefix(b"\xef\xbb\xbf").lstrip()


def _refuse_harmful_entities(data: bytes, name: str) -> None:
    if b"<!ENTITY" not in data:
        return
    held = 0
    for parameter, outside, double, single in _ENTITY.findall(data):
        value = double or single
        held += len(value)
        if parameter or outside:
            raise DamagedFile(f"{name} refers to something outside itself, which is never opened; save it as plain SVG")
        if b"&" in value and b"&#" not in value:
            raise DamagedFile(f"{name} has text that names itself to grow without end; save it as plain SVG")
    if held > _ENTITY_TEXT or data.count(b"<!ENTITY") > 64:
        raise DamagedFile(
            f"{name} declares {held:,} characters of shorthand, more than {_ENTITY_TEXT:,}; save it as plain SVG"
        )


def _in_words(error: etree.XMLSyntaxError) -> str:
    """Where and what, in words of our own: the library's speak of its insides."""
    what = next((words for codes, words in _WRONG if error.code in codes), "its markup is broken")
    return f"line {error.lineno or 1}: {what}"
