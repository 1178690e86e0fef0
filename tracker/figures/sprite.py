"""The shape of each state, in a box of 16 by 16, and the hatching of figures.

A flag is the engine, a bar is a limit. One source for the sprite of every page and for
drawings that stand alone, in a print, where there is no style sheet.
"""

from typing import Final

from django.utils.safestring import SafeString

from tracker.figures.states import slug_of

SHAPES: Final = {
    "before further flight": '<path class="sh-f" d="M0 2.6H6.8L11.4 8L6.8 13.4H0ZM12.2 .6H15.6V15.4H12.2Z"/>',
    "overdue": '<path class="sh-f" d="M0 2.2H9.8L16 8L9.8 13.8H0Z"/><path class="sh-k" d="M5 4.2V11.8"/>',
    "coming due": '<path class="sh-s" d="M1 3.4H5.9L10.2 8L5.9 12.6H1ZM14.2 .8V15.2"/>',
    "outstanding": '<circle class="sh-s" cx="8" cy="8" r="5.7"/>',
    "undetermined": '<path class="sh-s" d="M8 1.3L14.7 8L8 14.7L1.3 8Z"/><path class="sh-f" d="M8 1.3V14.7L1.3 8Z"/>',
    "complied with": '<path class="sh-s" d="M2.8 6.2L6.5 9.9L13.4 1.8M1 14.2H15"/>',
    "terminated": '<path class="sh-s" d="M.8 8H11.4"/><path class="sh-f" d="M11.2 1.4H14.9V14.6H11.2Z"/>',
    "nothing due": '<path class="sh-s" d="M1.9 4.7V12.4H14.1V4.7"/>',
    "does not apply": '<path class="sh-s" d="M3.2 14.2L12.8 1.8"/>',
    "applies": '<circle class="sh-f" cx="8" cy="8" r="4.3"/>',
    "past the recommended interval": '<path class="sh-s" d="M.9 3H9.3L14.8 8L9.3 13H.9ZM5 3V13"/>',
    "holds": '<path class="sh-s" d="M.9 3H7.1V13H.9ZM7.1 3H15.1V13H7.1M7.6 12.2L14.2 3.4M7.4 7.6L10.4 3.4M11.6 12.6L14.8 8.2"/>',
    "within reach": '<path class="sh-s" d="M.9 3H7.1V13H.9ZM9.3 3H11.3M13 3H15.1V5.1M15.1 7V9M15.1 10.9V13H13M11.3 13H9.3"/>',
    "suited": '<path class="sh-s" d="M4 .8V15.2M12 .8V15.2"/><path class="sh-f" d="M.6 5.4H15.4V10.6H.6Z"/>',
    "suited, see note": '<path class="sh-s" d="M4 5.4V15.2M12 5.4V15.2"/><path class="sh-f" d="M.6 5.4H15.4V10.6H.6ZM7 .6H9V3.4H7Z"/>',
    "not suited": '<path class="sh-s" d="M4 .8V15.2M12 .8V15.2M.9 5.6H8.6V10.4H.9Z"/>',
    "does not hold": '<path class="sh-s" d="M.9 3H7.1V13H.9ZM9.9 5.2L15 10.8M15 5.2L9.9 10.8"/>',
}
HATCH: Final = (
    '<pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path class="hatch-l" d="M0 0V5"/></pattern>'
)
_INK: Final = (
    ".sh-f{fill:#000}.sh-s{fill:none;stroke:#000;stroke-width:1.7}"
    ".sh-k{fill:none;stroke:#fff;stroke-width:1.9}"
)


def sprite() -> SafeString:
    """Return the sprite that stands once at the top of a page."""
    return SafeString(
        '<svg class="sprite" width="0" height="0" aria-hidden="true" focusable="false">'
        f"<defs>{HATCH}{symbols()}</defs></svg>"
    )


def symbols() -> str:
    return "".join(
        f'<symbol id="s-{slug_of(word)}" viewBox="0 0 16 16" '
        f'overflow="visible">{drawn}</symbol>'
        for word, drawn in SHAPES.items()
    )


def shape_alone(word: str) -> str:
    """Return the shape of a state as a whole drawing in black."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-0.5 -0.5 17 17" width="17" '
        f'height="17"><style>{_INK}</style>{SHAPES[word]}</svg>'
    )
