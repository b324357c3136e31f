"""Certificates that a user might have, made for tests."""

import ipaddress
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID


def for_host(folder, *hosts, days=30, password=None):
    """Files of a certificate for ``hosts`` (names and numbers) and of its key.

    ``days``: how long it is good from now, negative for one that was.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "a school")])
    now = datetime.now(UTC)
    first, last = sorted((now - timedelta(days=1), now + timedelta(days=days)))
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(first)
        .not_valid_after(last)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
    )
    if hosts:
        made = made.add_extension(x509.SubjectAlternativeName(list(map(_name, hosts))), False)
    file, key_file = folder / "school.pem", folder / "school-key.pem"
    signed = made.sign(key, hashes.SHA256())
    file.write_bytes(signed.public_bytes(serialization.Encoding.PEM))
    lock = serialization.NoEncryption()
    if password is not None:
        lock = serialization.BestAvailableEncryption(password)
    form = serialization.PrivateFormat.PKCS8
    key_file.write_bytes(key.private_bytes(serialization.Encoding.PEM, form, lock))
    return file, key_file


def _name(host):
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)
