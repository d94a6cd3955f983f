"""A certificate of this computer's own, so that what goes over the network is encrypted.

No authority vouches for it, so a browser warns once; what it then shows can be compared with the
fingerprint on the page Share. The same certificate is used again until it runs out or the computer
has another address, so that a phone that was told to go on is not asked every day.
"""

import hashlib
import ipaddress
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from cue_dashboard.errors import DashboardError

FILE_NAME = "sharing-certificate.pem"
LASTS = timedelta(days=397)
"""Browsers distrust a longer one (CA/Browser Forum, baseline requirements, 6.3.2)."""
RENEW_BEFORE = timedelta(days=7)
_CLOCKS_DIFFER = timedelta(days=1)


@dataclass(frozen=True)
class OwnCertificate:
    """A certificate and its key, in one file that only its owner can read.

    Parameters
    ----------
    path : Path
        The file, PEM.
    fingerprint : str
        SHA-256 of the certificate as browsers show it, in pairs of hexadecimal digits.
    """

    path: Path
    fingerprint: str


def own_certificate(host: str, folder: Path) -> OwnCertificate:
    """Return this computer's certificate for an address, made where there is none that fits.

    Parameters
    ----------
    host : str
        IP address that browsers call.
    folder : Path
        Where it is kept.

    Raises
    ------
    DashboardError
        If it cannot be written.
    """
    path = folder / FILE_NAME
    known = _kept(path, host)
    if known is None:
        pem, known = _new(host)
        _write(path, pem)
    return OwnCertificate(path, _fingerprint(known))


def _kept(path: Path, host: str) -> x509.Certificate | None:
    """Return the kept certificate if it is good for the address and some days more."""
    try:
        data = path.read_bytes()
        found = x509.load_pem_x509_certificate(data)
        serialization.load_pem_private_key(data, None)
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound):
        return None
    is_for_host = ipaddress.ip_address(host) in names.get_values_for_type(x509.IPAddress)
    is_good = found.not_valid_after_utc - datetime.now(UTC) > RENEW_BEFORE
    return found if is_for_host and is_good else None


def _new(host: str) -> tuple[bytes, x509.Certificate]:
    """Return a new key and certificate as PEM, and the certificate."""
    key, now = ec.generate_private_key(ec.SECP256R1()), datetime.now(UTC)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"stunpace on {host}")])
    address = x509.IPAddress(ipaddress.ip_address(host))
    purpose = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _CLOCKS_DIFFER)
        .not_valid_after(now - _CLOCKS_DIFFER + LASTS)
        .add_extension(x509.SubjectAlternativeName([address]), critical=False)
        # it can vouch for nothing but itself, so that who installs it opens no other door
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(purpose, critical=False)
        .sign(key, hashes.SHA256())
    )
    secret = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    return secret + made.public_bytes(serialization.Encoding.PEM), made


def _write(path: Path, pem: bytes) -> None:
    """Write a file that nobody else may read, not even while it is written."""
    partial = path.with_name(path.name + ".partial")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partial.unlink(missing_ok=True)
        with os.fdopen(os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
            file.write(pem)
        partial.replace(path)
    except OSError as fault:
        raise DashboardError(
            f"The certificate for sharing cannot be written to {path}: "
            f"{fault.strerror or fault}. Make room there, or share without encryption."
        ) from fault


def _fingerprint(made: x509.Certificate) -> str:
    """Return the certificate's fingerprint as browsers show it."""
    digest = hashlib.sha256(made.public_bytes(serialization.Encoding.DER)).hexdigest().upper()
    return " ".join(digest[k : k + 2] for k in range(0, len(digest), 2))
