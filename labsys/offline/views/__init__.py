"""Pages by subject: what devices send, and what was on paper."""

from labsys.offline.blueprint import bp
from labsys.offline.views import downtime, sent
from labsys.offline.views.sent import waits_for

__all__ = ["bp", "downtime", "sent", "waits_for"]
