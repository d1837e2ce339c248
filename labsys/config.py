"""Settings: read once from the environment and the instance folder, checked, then frozen."""

import json
import os
import re
import secrets
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from flask import current_app
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError

SETTINGS_FILE = "labsys.toml"
SECRET_FILE = "secret_key"  # noqa: S105 - the name of the file, not the secret
_NAMES = (
    *("database_url", "public_url", "proxies", "log_level"),
    *("mail_server", "mail_port", "mail_security", "mail_user", "mail_password", "mail_from"),
)
_LOG_LEVELS = ("DEBUG", "INFO", "WARNING", "ERROR")
_MAIL_PORTS = {"none": 25, "starttls": 587, "tls": 465}
_MAIL_ADDRESS = re.compile(r"[^@\s<>\"]+@[^@\s<>\"]+")


class ConfigError(Exception):
    """A setting is missing or wrong; the message names it and says what it should be."""


@dataclass(frozen=True, kw_only=True)
class Config:
    """Everything the application is told from outside.

    Attributes:
        instance: Folder that holds all a lab owns: database, secret key, settings file.
        database_url: SQLAlchemy address of the database; SQLite in the instance folder unless told otherwise.
        secret_key: Signs sessions and tokens.
        public_url: Address printed into QR codes and links; labels outlive host names, so it is a setting of its own.
        proxies: How many reverse proxies stand in front and may be believed about the client's address.
        log_level: Least severe message written to the log.
        mail_server: Host that takes mail by SMTP; empty, and mail waits in the outbox.
        mail_port: Its port; 0 stands for the usual one of the security chosen.
        mail_security: "starttls", "tls" or "none".
        mail_user: Name to sign in to it, and `mail_password` the password; empty where it asks for none.
        mail_from: Address that mail comes from.
        password_cost: argon2 time cost, memory in KiB and lanes; cheaper only in tests.
        testing: Only for tests: exceptions pass through.
    """

    instance: Path
    database_url: str
    secret_key: str
    public_url: str = "http://127.0.0.1:8000"
    proxies: int = 0
    log_level: str = "INFO"
    mail_server: str = ""
    mail_port: int = 0
    mail_security: str = "starttls"
    mail_user: str = ""
    mail_password: str = ""
    mail_from: str = ""
    password_cost: tuple[int, int, int] = (3, 65_536, 4)
    testing: bool = False

    def __post_init__(self) -> None:
        try:
            url = make_url(self.database_url)
        except ArgumentError:
            raise ConfigError(
                "LABSYS_DATABASE_URL is not a database address. Example: postgresql://user@host/labsys"
            ) from None
        if url.get_backend_name() not in ("sqlite", "postgresql"):
            raise ConfigError(
                f"LABSYS_DATABASE_URL names {url.get_backend_name()}; labsys runs on SQLite and PostgreSQL."
            )
        if url.get_backend_name() == "postgresql":
            object.__setattr__(self, "database_url", url.set(drivername="postgresql+psycopg").render_as_string(False))
        public = urlsplit(self.public_url)
        if public.scheme not in ("http", "https") or not public.netloc or public.query or public.fragment:
            raise ConfigError(
                f"LABSYS_PUBLIC_URL is {self.public_url!r}. Write a web address such as https://lab.example.org"
            )
        object.__setattr__(self, "public_url", self.public_url.rstrip("/"))
        if not 0 <= self.proxies <= 5:
            raise ConfigError(
                f"LABSYS_PROXIES is {self.proxies}. Write how many reverse proxies stand in front: 0 to 5."
            )
        if self.log_level not in _LOG_LEVELS:
            raise ConfigError(f"LABSYS_LOG_LEVEL is {self.log_level!r}. Write one of {', '.join(_LOG_LEVELS)}.")
        if len(self.secret_key) < 32:
            raise ConfigError(
                "The secret key is shorter than 32 characters. Delete the file secret_key to have one made."
            )
        self._check_mail()

    def _check_mail(self) -> None:
        if self.mail_security not in _MAIL_PORTS:
            raise ConfigError(f"LABSYS_MAIL_SECURITY is {self.mail_security!r}. Write one of {', '.join(_MAIL_PORTS)}.")
        if not 0 <= self.mail_port <= 65_535:
            raise ConfigError(f"LABSYS_MAIL_PORT is {self.mail_port}. Write the port of the mail server, such as 587.")
        if self.mail_port == 0:
            object.__setattr__(self, "mail_port", _MAIL_PORTS[self.mail_security])
        if bool(self.mail_user) != bool(self.mail_password):
            raise ConfigError("LABSYS_MAIL_USER and LABSYS_MAIL_PASSWORD go together: set both, or neither.")
        if self.mail_user and self.mail_security == "none":
            raise ConfigError(
                "LABSYS_MAIL_SECURITY is 'none', which would send LABSYS_MAIL_PASSWORD readable. Use starttls or tls."
            )
        if self.mail_from and not _MAIL_ADDRESS.fullmatch(self.mail_from):
            raise ConfigError(f"LABSYS_MAIL_FROM is {self.mail_from!r}. Write an address such as lab@example.org")
        if self.mail_server and not self.mail_from:
            raise ConfigError("LABSYS_MAIL_FROM is missing. Write the address that mail comes from.")

    @property
    def files(self) -> Path:
        """Folder of the files that jobs make."""
        return self.instance / "files"

    def environment(self) -> dict[str, str]:
        """What a process of the lab's own is started with, so that it reads the same settings."""
        named = {f"LABSYS_{name.upper()}": str(getattr(self, name)) for name in _NAMES}
        return {**os.environ, **named, "LABSYS_INSTANCE": str(self.instance)}

    @property
    def secure_cookies(self) -> bool:
        return self.public_url.startswith("https://")


def load_config(environ: Mapping[str, str] = os.environ, *, create: bool = False) -> Config:
    """Read the settings: the environment wins over the file `labsys.toml` in the instance folder.

    Parameters:
        environ: Environment variables, `LABSYS_...`.
        create: Make the instance folder and its secret key where they are missing.
    Returns:
        The settings, checked.
    Raises:
        ConfigError: A setting is wrong or unknown, or there is no instance yet and `create` is not set.
    """
    instance = Path(environ.get("LABSYS_INSTANCE", "instance")).resolve()
    secret_path = instance / SECRET_FILE
    if create:
        _create_instance(instance, secret_path)
    if not secret_path.is_file():
        raise ConfigError(
            f"There is no lab in {instance} yet. Run `labsys init`, or set LABSYS_INSTANCE to its folder."
        )
    settings: dict[str, Any] = _read_file(instance / SETTINGS_FILE)
    for name in _NAMES:
        if (value := environ.get(f"LABSYS_{name.upper()}")) is not None:
            settings[name] = value
    settings.setdefault("database_url", f"sqlite:///{instance / 'labsys.sqlite3'}")
    for name, allowed in (("proxies", "0 to 5"), ("mail_port", "such as 587")):
        try:
            settings[name] = int(settings.get(name, 0))
        except (TypeError, ValueError):
            raise ConfigError(
                f"LABSYS_{name.upper()} is {settings[name]!r}. Write a whole number, {allowed}."
            ) from None
    for name in _NAMES:
        if name in settings and name not in ("proxies", "mail_port") and not isinstance(settings[name], str):
            raise ConfigError(f"LABSYS_{name.upper()} is {settings[name]!r}. Write text, in quotation marks.")
    return Config(instance=instance, secret_key=secret_path.read_text(encoding="ascii").strip(), **settings)


def this_config() -> Config:
    """The settings of the application that is answering."""
    config: Config = current_app.config["LABSYS"]
    return config


def keep_public_url(public_url: str, environ: Mapping[str, str] = os.environ) -> None:
    """Write the public address into the settings file of the instance, which is made where it is missing.

    Raises ConfigError for what is no address, and where the environment or the file says otherwise.
    """
    told = load_config(environ, create=True)
    path = told.instance / SETTINGS_FILE
    wanted = replace(told, public_url=public_url).public_url
    if "LABSYS_PUBLIC_URL" in environ or "public_url" in _read_file(path):
        if told.public_url != wanted:
            raise ConfigError(f"--public-url is {wanted}, but the settings say {told.public_url}: leave one out.")
        return
    before = path.read_text(encoding="utf-8").rstrip("\n") + "\n" if path.exists() else ""
    path.write_text(f"{before}public_url = {json.dumps(wanted)}\n", encoding="utf-8")


def _create_instance(instance: Path, secret_path: Path) -> None:
    try:
        instance.mkdir(parents=True, exist_ok=True)
        if not secret_path.exists():
            descriptor = os.open(secret_path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "w", encoding="ascii") as file:
                file.write(secrets.token_hex(32))
    except OSError as error:
        raise ConfigError(f"LABSYS_INSTANCE is {instance}, where nothing can be written: {error.strerror}.") from error


def _read_file(path: Path) -> dict[str, Any]:
    if not path.is_file():
        return {}
    try:
        settings = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path} cannot be read: {error}.") from error
    if unknown := sorted(set(settings) - set(_NAMES)):
        raise ConfigError(
            f"{path} has a setting labsys does not know: {', '.join(unknown)}. It knows {', '.join(_NAMES)}."
        )
    return settings
