"""XML text that is well formed whatever a name holds."""

import re
from xml.sax.saxutils import escape, quoteattr

from siting.outputs.exchange_formats.items import Value

_NEVER = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"Letters that XML 1.0 has no place for."


def text(value: Value) -> str:
    """A value between tags."""
    return escape(_NEVER.sub("\ufffd", _words(value)))


def attribute(value: Value) -> str:
    """A value as an attribute, with its quotation marks."""
    return quoteattr(_NEVER.sub("\ufffd", _words(value)))


def _words(value: Value) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def tag_name(key: str) -> str:
    """A property's name as the name of an element."""
    plain = re.sub(r"[^A-Za-z0-9_.-]", "_", key)
    return plain if re.match(r"[A-Za-z_]", plain) else f"_{plain}"
