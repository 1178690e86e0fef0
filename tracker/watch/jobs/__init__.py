"""What is done again and again, each period once, whoever ticks and however often."""

from tracker.watch.jobs.periods import EVERY, period_of
from tracker.watch.jobs.ticking import do, tick

__all__ = ["EVERY", "do", "period_of", "tick"]
