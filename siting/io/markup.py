"""XML from strangers: no entities, no document types, no external files."""

from xml.etree.ElementTree import Element, ParseError

from siting.errors import InputError
from siting.io.records import Document


def parsed(document: Document, *, data: bytes | None = None) -> Element:
    """The root element of an XML file."""
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root: Element = fromstring(document.data if data is None else data, forbid_dtd=True)
    except DefusedXmlException:
        raise InputError(
            document.fault(
                "the XML declares a document type or entities",
                needed="plain GPX or KML, which need neither",
                do_next="export the file again from the program that made it",
            )
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        raise InputError(
            document.fault(
                f"not whole XML: {error}",
                needed="an XML document that ends properly",
                do_next="check that the file was copied to its end, or export it again",
            )
        ) from None
    return root


def tag(element: Element) -> str:
    """The name of an element without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def child(element: Element, name: str) -> Element | None:
    """The first child of that name."""
    return next((each for each in element if tag(each) == name), None)


def children(element: Element, *names: str) -> list[Element]:
    """The children that have one of the names, in order."""
    return [each for each in element if tag(each) in names]


def text(element: Element, name: str) -> str:
    """The text of the first child of that name, or nothing."""
    found = child(element, name)
    return (found.text or "").strip() if found is not None else ""
