"""Messages sent: claimed by lease, tried one by one, and marked with what came of it."""

from tracker.watch.delivery.sending import Delivered, deliver_batch, deliver_due

__all__ = ["Delivered", "deliver_batch", "deliver_due"]
