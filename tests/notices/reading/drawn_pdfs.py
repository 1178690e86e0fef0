"""PDFs drawn for the tests: ordinary ones, and files made to hurt whoever reads them."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from io import BytesIO

from pypdf import PdfReader, PdfWriter
from pypdf.actions import JavaScript
from reportlab.pdfgen.canvas import Canvas

BULLETIN = ("Applies to engines with serial number 4001 to 4987.", "Within 50 hours.")


def drawn(pages: Sequence[Sequence[str]] = (BULLETIN,)) -> bytes:
    """Return a PDF with one page for each list of lines."""
    into = BytesIO()
    canvas = Canvas(into, invariant=True)
    for lines in pages:
        for row, line in enumerate(lines):
            canvas.drawString(72, 720 - 18 * row, line)
        canvas.showPage()
    canvas.save()
    return into.getvalue()


def scanned() -> bytes:
    """Return a page that shows something and carries no text."""
    into = BytesIO()
    canvas = Canvas(into, invariant=True)
    canvas.rect(72, 72, 300, 500, fill=1)
    canvas.save()
    return into.getvalue()


def encrypted(*, user: str, owner: str, algorithm: str = "AES-256") -> bytes:
    writer = PdfWriter(clone_from=PdfReader(BytesIO(drawn())))
    writer.encrypt(user_password=user, owner_password=owner, algorithm=algorithm)
    return _written(writer)


def with_script() -> bytes:
    writer = PdfWriter(clone_from=PdfReader(BytesIO(drawn())))
    writer.add_open_action(JavaScript("app.alert('hello');"))
    writer.add_attachment("list.txt", b"4001")
    return _written(writer)


def _written(writer: PdfWriter) -> bytes:
    into = BytesIO()
    writer.write(into)
    return into.getvalue()


def of_objects(*bodies: bytes) -> bytes:
    """Return a PDF of raw objects, numbered from 1; the first is the catalog."""
    out = bytearray(b"%PDF-1.7\n")
    offsets = []
    for number, body in enumerate(bodies, start=1):
        offsets.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(bodies) + 1)
    out += b"".join(b"%010d 00000 n \n" % offset for offset in offsets)
    out += b"trailer\n<< /Size %d /Root 1 0 R >>\n" % (len(bodies) + 1)
    out += b"startxref\n%d\n%%%%EOF\n" % start
    return bytes(out)


_CATALOG = b"<< /Type /Catalog /Pages 2 0 R >>"


_FONT = b"/Font << /F1 << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"


def _zeros(megabytes: int) -> bytes:
    """Return a stream of zeros packed twice: a few kB for a GB."""
    packing = zlib.compressobj(9)
    once = b"".join(packing.compress(b"\0" * 1_000_000) for _ in range(megabytes))
    packed = zlib.compress(once + packing.flush(), 9)
    head = b"/Length %d /Filter [/FlateDecode /FlateDecode] >>\nstream\n" % len(packed)
    return head + packed + b"\nendstream"


def inflating(megabytes: int) -> bytes:
    """Return a page whose whole content is such a stream."""
    return of_objects(
        _CATALOG,
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 99 99] /Contents 4 0 R "
        b"/Resources << %s >> >>" % _FONT,
        b"<< " + _zeros(megabytes),
    )


def inflating_inside(line: bytes, megabytes: int) -> bytes:
    """Return a page that shows a line, and a drawing inside that is such a stream."""
    content = b"BT /F1 12 Tf 9 9 Td (%s) Tj ET /X1 Do" % line
    return of_objects(
        _CATALOG,
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 99 99] /Contents 4 0 R "
        b"/Resources << %s /XObject << /X1 5 0 R >> >> >>" % _FONT,
        b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content),
        b"<< /Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << %s >> %s"
        % (_FONT, _zeros(megabytes)),
    )


def looping() -> bytes:
    """Return a page tree that contains itself."""
    return of_objects(
        _CATALOG,
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Pages /Parent 2 0 R /Kids [2 0 R] /Count 1 >>",
    )


def counting_wrong() -> bytes:
    """Return a page tree that claims a hundred million pages."""
    kids = b"3 0 R " * 200_000
    return of_objects(
        _CATALOG,
        b"<< /Type /Pages /Kids [%s] /Count 100000000 >>" % kids,
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 99 99] >>",
    )


def nested(depth: int) -> bytes:
    return of_objects(
        b"<< /Type /Catalog /Pages 2 0 R /Deep %s%s >>" % (b"[" * depth, b"]" * depth),
        b"<< /Type /Pages /Kids [] /Count 0 >>",
    )
