"""Markup, one element at a time. What is not markup already is escaped."""

from django.utils.html import conditional_escape
from django.utils.safestring import SafeString

NOTHING = SafeString("")


def el(name: str, /, *inside: str, **attributes: str | float) -> SafeString:
    """One element. `class_` and `text_anchor` are written `class` and `text-anchor`.

    Text inside and the values of attributes are escaped; numbers are written with a
    point and at most three decimals, whatever the reader's language.
    """
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_value(value)}"'
        for key, value in attributes.items()
    )
    content = "".join(conditional_escape(part) for part in inside)
    return SafeString(f"<{name}{written}>{content}</{name}>")


def join(parts: list[SafeString]) -> SafeString:
    """Elements one after the other."""
    return SafeString("".join(parts))


def line(x1: str, y1: float, x2: str, y2: float, kind: str) -> SafeString:
    return el("line", class_=kind, x1=x1, y1=y1, x2=x2, y2=y2)


def stroke(x: str, y1: float, y2: float, kind: str) -> SafeString:
    """An upright line."""
    return line(x, y1, x, y2, kind)


def bar(x: str, width: str, y: float, height: float, kind: str) -> SafeString:
    return el("rect", class_=kind, x=x, y=y, width=width, height=height)


def hatched(x: str, width: str, y: float, height: float) -> SafeString:
    return el(
        "rect",
        class_="hatch",
        fill="url(#hatch)",
        x=x,
        y=y,
        width=width,
        height=height,
    )


def words(
    text: str, x: str, y: float, kind: str = "", *, dx: float = 0, anchor: str = "start"
) -> SafeString:
    return el("text", text, class_=kind, x=x, y=y, dx=dx, text_anchor=anchor)


def shape(slug: str, x: str, dx: float, y: float, *, size: int = 12) -> SafeString:
    """The shape of a state; the offset in px stands on a group, x in per cent."""
    inner = el("use", href=f"#s-{slug}", x=x, width=size, height=size)
    return el("g", inner, class_=f"p-{slug}", transform=f"translate({dx:g} {y:g})")


def arrow(x: str, top: float, height: float, *, ahead: bool) -> SafeString:
    """The head of a bar that goes on beyond the scale, at its left or right end."""
    tip = 9 if ahead else -9
    path = f"M0 -2L{tip} {height / 2:g}L0 {height + 2:g}Z"
    head = el("path", class_="sh-f", d=path)
    return el("svg", head, x=x, y=top, overflow="visible")


def square(x: str, dx: float, y: float, size: int, kind: str) -> SafeString:
    inner = el("rect", class_=kind, x=x, width=size, height=size)
    return el("g", inner, transform=f"translate({dx:g} {y:g})")


def drawing(
    *parts: SafeString, id_: str, kind: str, height: float, title: str, desc: str
) -> SafeString:
    """A whole figure: an image with a name and with everything on it in words."""
    return el(
        "svg",
        el("title", title, id=f"{id_}-t"),
        el("desc", desc, id=f"{id_}-d"),
        *parts,
        class_=kind,
        width="100%",
        height=height,
        role="img",
        aria_labelledby=f"{id_}-t",
        aria_describedby=f"{id_}-d",
    )


def _value(value: str | float) -> str:
    if isinstance(value, str):
        return conditional_escape(value)
    return f"{value:.3f}".rstrip("0").rstrip(".")
