"""A web address a key may hold: plain https to a public machine, and nothing else.

area.toml may come from a stranger. Its address must not make this machine talk to
the machines beside it, show a password, or end as one in the plan's files.
"""

import ipaddress
import re
import socket
from dataclasses import dataclass
from urllib.parse import unquote, urlsplit

from layout.errors import InputError

IpAddress = ipaddress.IPv4Address | ipaddress.IPv6Address

PORTS = {"https": 443, "http": 80}
DOWNLOAD = "download the file and name it here"
# IPv6 addresses that only carry an IPv4 one (RFC 6052), beside those the library knows.
CARRIES_IPV4 = ipaddress.IPv6Network("64:ff9b::/96")


@dataclass(frozen=True, slots=True)
class WebAddress:
    """A web address that may be opened.

    Parameters
    ----------
    text : str
        As the key holds it.
    scheme : {"https", "http"}
        ``http`` is for this machine itself only.
    host : str
        Name or number of the machine.
    port : int
    target : str
        Path on that machine, as it is asked for.
    """

    text: str
    scheme: str
    host: str
    port: int
    target: str

    @property
    def name(self) -> str:
        """The file's own name, for messages."""
        return unquote(self.target.rsplit("/", 1)[-1])


def is_web_address(text: str) -> bool:
    """Say whether a key holds an address rather than a file.

    Examples
    --------
    >>> is_web_address("https://example.org/dem.tif"), is_web_address("C:/woods/dem.tif")
    (True, False)
    """
    return "://" in text


def web_address(text: str, where: str) -> WebAddress:
    """Take a web address apart, and refuse what is not plain.

    Parameters
    ----------
    text : str
        What the key holds.
    where : str
        Start of a message: file, table and key.

    Returns
    -------
    WebAddress

    Raises
    ------
    InputError
        If it is not https (http to this machine), or holds a user name, a query,
        a mark that belongs in no address, or no file's name.
    """

    def refused(why: str) -> InputError:
        shown = re.sub(r"//[^/@]*@", "//...@", text).split("?")[0][:200]
        return InputError(f'{where} "{shown}" {why}')

    if not re.fullmatch(r"[!-~]+", text):
        raise refused(
            "holds a blank or a letter no web address has; copy it from the browser's address line"
        )
    try:
        parts = urlsplit(text)
        port, host = parts.port, parts.hostname
    except ValueError:
        raise refused("is no web address; copy it from the browser's address line") from None
    scheme = parts.scheme.lower()
    if scheme not in PORTS:
        raise refused(f"is no https address; {DOWNLOAD}")
    if parts.username is not None or parts.password is not None or "@" in parts.netloc:
        raise refused(f"holds a user name or password, which the plan would show; {DOWNLOAD}")
    if "?" in text or "#" in text:
        raise refused(
            f"goes on after the file's name (? or #); that may be a key, which the plan would "
            f"show. {DOWNLOAD[0].upper()}{DOWNLOAD[1:]}"
        )
    if not host or "\\" in text or host.endswith("."):
        raise refused("is no web address; copy it from the browser's address line")
    if scheme == "http" and not _names_this_machine(host):
        raise refused(f"is not https, so anyone on the way could change it; {DOWNLOAD}")
    target = parts.path
    if not target.rsplit("/", 1)[-1]:
        raise refused("names no file")
    return WebAddress(text, scheme, host, port or PORTS[scheme], target)


def checked_numbers(address: WebAddress, where: str) -> tuple[str, ...]:
    """Look a host up, and refuse one that leads to a machine that is not public.

    The numbers are to be connected to as they stand: who looked the name up again
    could be sent elsewhere.

    Parameters
    ----------
    address : WebAddress
    where : str
        Start of a message.

    Returns
    -------
    tuple of str
        IP addresses, in the order the system prefers.

    Raises
    ------
    InputError
        If the name is not known, or any of its numbers is private, of this
        machine (https), or for some other special use.
    """
    try:
        known = socket.getaddrinfo(address.host, address.port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        raise InputError(
            f"{where} {address.text}: no machine named {address.host} is found; is this computer "
            f"on the network? Otherwise {DOWNLOAD}"
        ) from None
    numbers = list(dict.fromkeys(str(entry[4][0]) for entry in known))
    for number in numbers:
        ip = _carried(ipaddress.ip_address(number.split("%")[0]))
        fits = ip.is_loopback if address.scheme == "http" else ip.is_global and not ip.is_multicast
        if not fits:
            raise InputError(
                f"{where} {address.text}: {address.host} is {number}, a machine of a private "
                f"network and not a public one; {DOWNLOAD}"
            )
    return tuple(numbers)


def _names_this_machine(host: str) -> bool:
    """Say whether a host is this machine by its very name or number."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _carried(ip: IpAddress) -> IpAddress:
    """Give the IPv4 address an IPv6 address only carries, or the address itself."""
    if not isinstance(ip, ipaddress.IPv6Address):
        return ip
    if ip in CARRIES_IPV4:
        return ipaddress.IPv4Address(int(ip) & 0xFFFFFFFF)
    teredo = ip.teredo[1] if ip.teredo is not None else None
    return ip.ipv4_mapped or ip.sixtofour or teredo or ip
