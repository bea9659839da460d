"""A certificate of our own making, for a server that only people who were told its fingerprint will trust."""

import ipaddress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from doorwright.kernel.errors import Refused
from doorwright.store.files import write_whole

LASTS: Final = timedelta(days=365)
_BEFORE: Final = timedelta(days=1)
"""It counts from a day ago: phones' clocks differ."""


def ensure_certificate(certificate: Path, key: Path, names: tuple[str, ...], *, now: datetime) -> str:
    """Make a self-signed certificate for these names and addresses, unless a valid one is there; return its SHA-256.

    Raises:
        Refused: what is there is no certificate, or the files cannot be written.
    """
    if certificate.exists() and key.exists():
        there = _read(certificate)
        if there.not_valid_after_utc - now > _BEFORE and _names_of(there) == set(names):
            return fingerprint(there)
    private = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Doorwright at {names[0]}"[:64])])
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _BEFORE)
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(private, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    encoding, form = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    write_whole(key, private.private_bytes(encoding, form, plain), private=True)
    write_whole(certificate, made.public_bytes(encoding))
    return fingerprint(made)


def fingerprint(certificate: x509.Certificate) -> str:
    """Return the SHA-256 of a certificate as browsers show it: pairs of digits with colons."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def fingerprint_of(path: Path) -> str:
    """Return the SHA-256 of a certificate file.

    Raises:
        Refused: it cannot be read, or is no certificate.
    """
    return fingerprint(_read(path))


def _read(path: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except OSError as error:
        raise Refused(f"{path} cannot be read: {error.strerror or error}", remedy="Name another file.") from error
    except ValueError as error:
        raise Refused(f"{path} is no certificate in PEM form", remedy="Name another file, or move it away.") from error


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _names_of(certificate: x509.Certificate) -> set[str]:
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    addresses = {str(address) for address in found.get_values_for_type(x509.IPAddress)}
    return addresses | set(found.get_values_for_type(x509.DNSName))
