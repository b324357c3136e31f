"""What is said of each kind of fact whose topic is ``certificate``, for https."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "certificate.unread": N_("{file}: can't read the certificate: {reason}"),
    "certificate.no_certificate": N_(
        "{file}: this is no certificate in PEM (a text that begins with BEGIN CERTIFICATE)"
    ),
    "certificate.not_now": N_("{file}: this certificate isn't good today; its last day is {last}"),
    "certificate.no_host": N_(
        "{file}: this certificate names no address or name of one machine; browsers would refuse it"
    ),
    "certificate.wrong_key": N_(
        "{key}: this isn't the key of {file}, in PEM and without a password of its own"
    ),
    "certificate.both": N_("--certificate and --key go together: give both files"),
}
