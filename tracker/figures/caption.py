"""What stands around a drawing: caption, legend of states, keys, what has no place."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from tracker.figures.stairs import Point
from tracker.figures.states import BY_URGENCY, OUTCOMES, RECORDED, slug_of, word_of
from tracker.figures.svg import NOTHING, el, join


@dataclass(frozen=True, slots=True, kw_only=True)
class OffScale:
    """A mark without a place on the scale. `why`: "not known", "at overhaul"."""

    name: str
    state: str
    why: str


def state(word: object, text: str | None = None) -> SafeString:
    """Shape and word of a state; `text` may say more than the bare word.

    What it says after the word itself and a comma stands below it, in a second voice.
    """
    slug, plain = slug_of(word), word_of(word)
    drawn = el("svg", el("use", href=f"#s-{slug}"), aria_hidden="true")
    said, comma, more = (text or plain).partition(f"{plain}, ")
    if said or not comma:
        return el("span", drawn, text or plain, class_=f"st st-{slug}")
    marked = el("span", drawn, plain, class_=f"st st-{slug}")
    return join([marked, SafeString(" "), el("span", more, class_="why")])


def figure(*parts: SafeString) -> SafeString:
    return el("figure", *parts, class_="fig")


def figcaption(number: int, *sentences: str) -> SafeString:
    """The caption; the same figure number is what the text refers to."""
    return el("figcaption", el("b", f"Figure {number}."), " ", " ".join(sentences))


def legend(states: Sequence[str]) -> SafeString:
    """Shape and word of each state that is drawn in the figure, once."""
    drawn = [word for word in BY_URGENCY + OUTCOMES if word in states]
    if not drawn:
        return NOTHING
    return el("p", *(state(word) for word in drawn), class_="key")


def off_scale(marks: Sequence[OffScale]) -> SafeString:
    """The line under the figure: nothing that is due is silent."""
    if not marks:
        return NOTHING
    items = [
        el("li", state(mark.state), f" {mark.name}, {mark.why}", class_="off-item")
        for mark in marks
    ]
    head = el("p", "Not on the scale:", class_="off-head")
    return el("div", head, el("ul", *items), class_="off")


def keyed(points: Sequence[Point]) -> SafeString:
    """The keyed list that stands for the labels on a narrow scale."""
    if not points:
        return NOTHING
    return el(
        "ol", join([_keyed_row(point) for point in points]), class_="keys w-narrow"
    )


def _keyed_row(point: Point) -> SafeString:
    word = (
        el("span", "recorded", class_="st")
        if point.state == RECORDED
        else state(point.state)
    )
    what = [point.name, " ", word] if point.note else [point.name]
    return el(
        "li",
        el("span", point.key, class_="k"),
        el("span", *what, class_="what"),
        el("span", point.note or word, class_="v"),
    )
