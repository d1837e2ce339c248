"""A real SMTP server on this machine that keeps what it is given, and can be told to refuse."""

import asyncio
import socket
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


def free_port() -> int:
    """A port on which nothing listens."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


class PostOffice:
    """Keeps letters in the order they came.

    `at_recipient` and `at_text` are the answers to RCPT and to the text; `hesitates_s` waits after a letter is kept
    and before it is acknowledged.
    """

    def __init__(self) -> None:
        self.letters: list[EmailMessage] = []
        self.at_recipient = "250 OK"
        self.at_text = "250 OK"
        self.hangs_up = False
        self.hesitates_s = 0.0
        self.port = free_port()
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)

    def __enter__(self) -> "PostOffice":
        self._controller.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._controller.stop()

    def settings(self) -> dict[str, Any]:
        return {
            "mail_server": "127.0.0.1",
            "mail_port": self.port,
            "mail_security": "none",
            "mail_from": "lab@alder.example",
        }

    async def handle_RCPT(  # noqa: N802 - the library's name
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if self.at_recipient.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.at_recipient

    async def handle_DATA(self, server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        if self.at_text.startswith("250"):
            letter = message_from_bytes(envelope.content, policy=default)
            assert isinstance(letter, EmailMessage)
            self.letters.append(letter)
        await asyncio.sleep(self.hesitates_s)
        if self.hangs_up:
            server.transport.abort()
        return self.at_text
