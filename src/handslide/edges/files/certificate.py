"""Certificates for https: the user's own, or one that is made here and signed by itself."""

import ipaddress
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from handslide.edges.files.outfile import write_result
from handslide.edges.files.plainfile import read_plain
from handslide.ground.errors import BadData
from handslide.ground.limits import TYPED_BYTES
from handslide.ground.system import system_reason

CERTIFICATE_NAME, KEY_NAME = "tablet-certificate.pem", "tablet-key.pem"
# Some browsers take no certificate that is good for longer.
_GOOD_FOR = timedelta(days=397)
_RENEW_BEFORE = timedelta(days=30)
_CLOCK_MAY_DIFFER = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate with its key, as files in PEM. ``hosts``: names and addresses that it is for.

    ``fingerprint`` is the SHA-256 of the certificate as pairs of digits; ``made_here``: nobody
    else vouches for it, so browsers warn.
    """

    file: Path
    key_file: Path
    hosts: tuple[str, ...]
    fingerprint: tuple[str, ...]
    made_here: bool


def given_certificate(file: Path, key_file: Path) -> Certificate:
    """The user's own certificate. Raises BadData."""
    found = _read(file)
    now = datetime.now(UTC)
    if not found.not_valid_before_utc <= now <= found.not_valid_after_utc:
        last = found.not_valid_after_utc.date().isoformat()
        raise BadData("certificate.not_now", file=str(file), last=last)
    hosts = tuple(host for host in _hosts(found) if "*" not in host)
    if not hosts:
        raise BadData("certificate.no_host", file=str(file))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        # A key with a password of its own would be asked for in the terminal.
        context.load_cert_chain(file, key_file, password=lambda: "")
    except (OSError, ValueError) as error:
        raise BadData("certificate.wrong_key", key=str(key_file), file=str(file)) from error
    return Certificate(file, key_file, hosts, _fingerprint(found), made_here=False)


def own_certificate(folder: Path, address: str) -> Certificate:
    """A certificate for ``address`` that is kept in ``folder``, made if it isn't there.

    Its key is for the owner of the folder alone. Raises OutputError.
    """
    file, key_file = folder / CERTIFICATE_NAME, folder / KEY_NAME
    try:
        kept = given_certificate(file, key_file)
        fresh = _read(file).not_valid_after_utc > datetime.now(UTC) + _RENEW_BEFORE
    except BadData:
        fresh = False
    if fresh and address in kept.hosts:
        return Certificate(file, key_file, kept.hosts, kept.fingerprint, made_here=True)
    made, key = _made(address)
    # The key first: a certificate without its key is made anew.
    write_result(key_file, key, force=True, private=True)
    write_result(file, made.public_bytes(serialization.Encoding.PEM), force=True)
    return Certificate(file, key_file, (address,), _fingerprint(made), made_here=True)


def _read(file: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(read_plain(file, TYPED_BYTES))
    except OSError as error:
        reason = system_reason(error)
        raise BadData("certificate.unread", file=str(file), reason=reason) from error
    except ValueError as error:
        raise BadData("certificate.no_certificate", file=str(file)) from error


def _hosts(found: x509.Certificate) -> list[str]:
    try:
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (x509.ExtensionNotFound, ValueError):
        return []
    hosts = [name.lower() for name in names.get_values_for_type(x509.DNSName)]
    return hosts + [str(number) for number in names.get_values_for_type(x509.IPAddress)]


def _fingerprint(found: x509.Certificate) -> tuple[str, ...]:
    digits = found.fingerprint(hashes.SHA256()).hex().upper()
    return tuple(digits[k : k + 2] for k in range(0, len(digits), 2))


def _made(address: str) -> tuple[x509.Certificate, bytes]:
    """A certificate for a number, as RFC 5280 and RFC 6125 have it, and its key in PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "handslide studio")])
    now = datetime.now(UTC)
    number = x509.IPAddress(ipaddress.ip_address(address))
    usage = dict.fromkeys(
        (
            "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
            "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
        ),
        False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _CLOCK_MAY_DIFFER)
        .not_valid_after(now - _CLOCK_MAY_DIFFER + _GOOD_FOR)
        .add_extension(x509.SubjectAlternativeName([number]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.KeyUsage(digital_signature=True, **usage), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    form = serialization.PrivateFormat.PKCS8
    return made, key.private_bytes(serialization.Encoding.PEM, form, plain)
