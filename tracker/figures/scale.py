"""A line of whole numbers laid out on a width: hundredths of hours, days, serials."""

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """`low` to `high` on `width` px, with free margins of `left` and `right` px.

    The width is the least one: places are given out in per cent, so that a drawing
    may be stretched, never squeezed.
    """

    low: int
    high: int
    width: int
    left: float = 8
    right: float = 8

    def px(self, value: int) -> float:
        """The place of `value` in px at the least width; held inside the scale."""
        held = min(max(value, self.low), self.high)
        share = (held - self.low) / (self.high - self.low)
        return self.left + share * (self.width - self.left - self.right)

    def at(self, value: int) -> str:
        """The place of `value` in per cent of the width."""
        return self.percent(self.px(value))

    def span(self, first: int, last: int) -> str:
        """The length from `first` to `last` in per cent of the width."""
        return self.percent(self.px(last) - self.px(first))

    def percent(self, px: float) -> str:
        return f"{px / self.width * 100:.3f}%"

    def holds(self, value: int) -> bool:
        return self.low <= value <= self.high

    def per_px(self) -> float:
        """How many units one px stands for."""
        return (self.high - self.low) / (self.width - self.left - self.right)


def step_of(scale: Scale, gap: float, unit: int) -> int:
    """The smallest of 1, 2, 5 x 10^n units that leaves `gap` px between figures."""
    least = scale.per_px() * gap
    power = unit
    while True:
        for factor in (1, 2, 5):
            if power * factor >= least:
                return power * factor
        power *= 10


def minor_of(step: int, unit: int) -> int:
    """The step of the small ticks: a fifth, or a quarter of a step of two."""
    leading = int(str(step // unit)[0])
    parts = 4 if leading == 2 else 5
    return step // parts if step % parts == 0 else step


def multiples(step: int, low: int, high: int) -> Iterator[int]:
    """The multiples of `step` from `low` to `high`, both ends included."""
    return iter(range(-(-low // step) * step, high + 1, step))
