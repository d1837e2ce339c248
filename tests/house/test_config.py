"""Settings: a bad one names itself and stops the start."""

from pathlib import Path

import pytest

from labsys.config import Config, ConfigError, load_config


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("LABSYS_DATABASE_URL", "not an address", "LABSYS_DATABASE_URL is not a database address"),
        ("LABSYS_DATABASE_URL", "mysql://x/y", "LABSYS_DATABASE_URL names mysql"),
        ("LABSYS_PUBLIC_URL", "lab.example.org", "LABSYS_PUBLIC_URL is 'lab.example.org'"),
        ("LABSYS_PUBLIC_URL", "ftp://lab.example.org", "Write a web address"),
        ("LABSYS_PROXIES", "two", "LABSYS_PROXIES is 'two'"),
        ("LABSYS_PROXIES", "-1", "LABSYS_PROXIES is -1"),
        ("LABSYS_LOG_LEVEL", "LOUD", "LABSYS_LOG_LEVEL is 'LOUD'"),
        ("LABSYS_MAIL_SERVER", "mail.example.org", "LABSYS_MAIL_FROM is missing"),
        ("LABSYS_MAIL_PORT", "smtp", "LABSYS_MAIL_PORT is 'smtp'"),
        ("LABSYS_MAIL_PORT", "70000", "LABSYS_MAIL_PORT is 70000"),
        ("LABSYS_MAIL_SECURITY", "ssl", "LABSYS_MAIL_SECURITY is 'ssl'"),
        ("LABSYS_MAIL_USER", "lab", "LABSYS_MAIL_USER and LABSYS_MAIL_PASSWORD go together"),
        ("LABSYS_MAIL_FROM", "the lab", "LABSYS_MAIL_FROM is 'the lab'"),
    ],
)
def test_a_bad_setting_names_itself(tmp_path: Path, name: str, value: str, says: str):
    with pytest.raises(ConfigError, match=says):
        load_config({"LABSYS_INSTANCE": str(tmp_path), name: value}, create=True)


def test_without_an_instance_nothing_starts(tmp_path: Path):
    with pytest.raises(ConfigError, match=r"no lab in .*labsys init"):
        load_config({"LABSYS_INSTANCE": str(tmp_path / "nowhere")})


def test_the_environment_wins_over_the_file(tmp_path: Path):
    load_config({"LABSYS_INSTANCE": str(tmp_path)}, create=True)
    (tmp_path / "labsys.toml").write_text('public_url = "https://file.example.org/"\nproxies = 2\n')
    read = load_config({"LABSYS_INSTANCE": str(tmp_path), "LABSYS_PROXIES": "1"})
    assert (read.public_url, read.proxies, read.secure_cookies) == ("https://file.example.org", 1, True)


def test_an_unknown_setting_in_the_file_stops_the_start(tmp_path: Path):
    load_config({"LABSYS_INSTANCE": str(tmp_path)}, create=True)
    (tmp_path / "labsys.toml").write_text('publicurl = "https://file.example.org/"\n')
    with pytest.raises(ConfigError, match="does not know: publicurl"):
        load_config({"LABSYS_INSTANCE": str(tmp_path)})


def test_the_secret_key_is_made_once_for_each_instance_and_only_its_owner_reads_it(tmp_path: Path):
    first = load_config({"LABSYS_INSTANCE": str(tmp_path / "a")}, create=True)
    again = load_config({"LABSYS_INSTANCE": str(tmp_path / "a")}, create=True)
    other = load_config({"LABSYS_INSTANCE": str(tmp_path / "b")}, create=True)
    assert first.secret_key == again.secret_key != other.secret_key
    assert (tmp_path / "a" / "secret_key").stat().st_mode & 0o077 == 0


def test_there_is_no_default_secret(tmp_path: Path):
    with pytest.raises(ConfigError, match="secret key"):
        Config(instance=tmp_path, database_url="sqlite://", secret_key="dev")


def test_one_address_chooses_postgresql_and_its_driver(tmp_path: Path):
    config = Config(instance=tmp_path, database_url="postgresql://labsys:p%40ss@db/lab", secret_key="x" * 32)
    assert config.database_url == "postgresql+psycopg://labsys:p%40ss@db/lab"


def test_each_kind_of_mail_security_has_its_usual_port(tmp_path: Path):
    """Ports 25, 587 and 465: RFC 5321, RFC 6409 and RFC 8314 (from memory)."""
    ports = {}
    for security in ("none", "starttls", "tls"):
        environ = {"LABSYS_INSTANCE": str(tmp_path), "LABSYS_MAIL_SECURITY": security}
        ports[security] = load_config(environ, create=True).mail_port
    assert ports == {"none": 25, "starttls": 587, "tls": 465}


def test_a_mail_password_never_travels_readable(tmp_path: Path):
    environ = {
        "LABSYS_INSTANCE": str(tmp_path),
        "LABSYS_MAIL_SECURITY": "none",
        "LABSYS_MAIL_USER": "lab",
        "LABSYS_MAIL_PASSWORD": "secret",
    }
    with pytest.raises(ConfigError, match="LABSYS_MAIL_SECURITY is 'none'"):
        load_config(environ, create=True)


def test_text_in_the_file_is_text(tmp_path: Path):
    load_config({"LABSYS_INSTANCE": str(tmp_path)}, create=True)
    (tmp_path / "labsys.toml").write_text("mail_server = 25\n")
    with pytest.raises(ConfigError, match="LABSYS_MAIL_SERVER is 25"):
        load_config({"LABSYS_INSTANCE": str(tmp_path)})
