"""What the server says to whoever hosts it: one JSON object a line, for whatever collects logs."""

import json
import logging
import sys
from datetime import UTC, datetime
from typing import Any


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
        return json.dumps(entry, ensure_ascii=False)


def log_to_stderr(level: str) -> None:
    """Write what is logged from this level on."""
    logger = logging.getLogger("labsys")
    logger.setLevel(level)
    if not logger.handlers:
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(_JsonLines())
        logger.addHandler(handler)
        logger.propagate = False
