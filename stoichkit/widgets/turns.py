"""One callback of the panels at a time, whichever thread of the kernel it arrives in.

A kernel may hand the messages of widgets to two threads. The callbacks of the panels all change
the same states, so each takes its turn.
"""

from __future__ import annotations

import threading

__all__ = ["TURN"]

TURN = threading.RLock()
"""To be held while the state of a panel is changed or shown; re-entrant, never waited under."""
