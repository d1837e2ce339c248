from tests.mail.conftest import post_office

__all__ = ["post_office"]
