"""XML from other hands: what is kept of it, and what is refused."""

from __future__ import annotations

import pytest

from duskline.exchange.plain_xml import XmlRefused, plain_xml, written


def refusal(text: str | bytes, root: str = "gpx") -> XmlRefused:
    """Why a file is refused."""
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(XmlRefused) as refused:
        plain_xml(data, root=root, refused=("NetworkLink",))
    return refused.value


def test_elements_and_texts_are_kept_and_all_else_goes() -> None:
    """Prefixes, comments, instructions and elements not wanted; texts keep their letters."""
    top = plain_xml(
        b'<?xml version="1.0"?><?run this?><g:gpx xmlns:g="u" xmlns:o="v" version="1.1" o:x="y">'
        b"<!-- <OGRVRTDataSource> --><g:name>A &lt;B&gt; &#233;</g:name>"
        b"<o:extensions><o:name>no</o:name></o:extensions><g:desc><![CDATA[<x>]]></g:desc></g:gpx>",
        root="gpx",
        dropped=("extensions",),
    )
    assert written(top, namespace="n").decode() == (
        "<?xml version='1.0' encoding='utf-8'?>\n"
        '<gpx version="1.1" xmlns="n"><name>A &lt;B&gt; é</name><desc>&lt;x&gt;</desc></gpx>'
    )


@pytest.mark.parametrize(
    "text",
    [
        '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd"><gpx/>',
        '<!DOCTYPE gpx [<!ENTITY a "b">]><gpx>&a;</gpx>',
        '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "file:///etc/passwd"> %p;]><gpx/>',
        "<!DOCTYPE gpx><gpx/>",
    ],
)
def test_a_document_type_is_refused(text: str) -> None:
    """No field needs one; bombs and letters to strangers do."""
    assert refusal(text).read == "a document type or an entity"
    assert refusal(text.encode("utf-16")).read == "a document type or an entity"


def test_a_slip_is_told_with_its_line() -> None:
    """An end without a start on line 3, an entity nobody named, and a file cut off."""
    assert refusal("<gpx>\n<trk>\n</wrong>").line == 3
    assert "slip" in refusal("<gpx>&lol;</gpx>").read
    assert "slip" in refusal("<gpx><trk>").read
    assert "slip" in refusal(b'<?xml version="1.0" encoding="no-such"?><gpx/>').read


def test_another_kind_of_file_is_refused_by_its_first_element() -> None:
    """A page of a browser, saved by mistake."""
    assert refusal("<html><body/></html>").read == "a file of <html>"


def test_depth_is_bounded_and_links_are_refused() -> None:
    """A thousand elements within each other, and a link to another file."""
    assert "more than" in refusal("<gpx>" + "<trk>" * 1000 + "</trk>" * 1000 + "</gpx>").read
    assert "a link to another place" in refusal("<kml><NetworkLink/></kml>", root="kml").read
