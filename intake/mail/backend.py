"""Where messages go when the environment does not say: the coordinator's mail server, else a folder."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.backends.filebased import EmailBackend as FolderBackend
from django.core.mail.backends.smtp import EmailBackend as ServerBackend
from django.core.mail.message import EmailMessage

from intake.library import services as libraries
from intake.library.models import MailSecurity
from intake.library.secret import decrypted


class EmailBackend(BaseEmailBackend):
    """Asks the library's row at every sending, so that a change on the set-up page holds at once for every process."""

    def __init__(self, fail_silently: bool = False, **options: Any) -> None:
        super().__init__(fail_silently=fail_silently)
        self._chosen = _chosen(fail_silently)

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        return self._chosen.send_messages(email_messages)


def _chosen(fail_silently: bool) -> BaseEmailBackend:
    library = libraries.current()
    if not library.mail_server:
        return FolderBackend(fail_silently=fail_silently, file_path=settings.EMAIL_FILE_PATH)
    return ServerBackend(
        host=library.mail_server,
        port=library.mail_port,
        username=library.mail_user,
        password=decrypted(library.mail_password),
        use_tls=library.mail_security == MailSecurity.STARTTLS,
        use_ssl=library.mail_security == MailSecurity.TLS,
        timeout=settings.EMAIL_TIMEOUT,
        fail_silently=fail_silently,
    )
