"""What the server says to whoever hosts it: one JSON object a line, for whatever collects logs."""

import json
import logging
import re
import sys
from datetime import UTC, datetime
from typing import Any

# Addresses that are secret themselves: links that let somebody in, and calendars.
_SECRET = re.compile(r"(/(?:welcome|calendar)/)[\w-]+")


class _JsonLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        entry: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "from": record.name,
            "message": record.getMessage(),
        }
        entry.update(getattr(record, "facts", {}))
        if record.exc_info:
            entry["traceback"] = self.formatException(record.exc_info)
        return _SECRET.sub(r"\1…", json.dumps(entry, ensure_ascii=False))


def log_to_stderr(level: str) -> None:
    """Write what is logged from this level on, by labsys and by the server that carries it."""
    for name in ("labsys", "waitress"):
        logger = logging.getLogger(name)
        logger.setLevel(level)
        if not logger.handlers:
            handler = logging.StreamHandler(sys.stderr)
            handler.setFormatter(_JsonLines())
            logger.addHandler(handler)
            logger.propagate = False
