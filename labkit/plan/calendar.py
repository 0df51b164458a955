"""Days as an iCalendar file (RFC 5545), for any calendar program."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256

__all__ = ["Entry", "icalendar"]

WIDTH = 75
"""Octets of a content line before it is folded, RFC 5545 section 3.1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One day in the calendar: what is to be done, and a few words about it."""

    day: date
    title: str
    words: str = ""


def icalendar(entries: Iterable[Entry], made: datetime | None = None) -> str:
    """Entries as the text of an ``.ics`` file.

    Parameters
    ----------
    entries : iterable of Entry
        Whole days.
    made : datetime, optional
        When the file was made; now if left out.

    Returns
    -------
    str
        Lines end in CR LF and are folded at 75 octets. The same entry has the same UID, so
        that importing it twice gives one.

    Notes
    -----
    RFC 5545: text escapes of section 3.3.11, folding of section 3.1, VALUE=DATE of 3.3.4.

    Examples
    --------
    >>> icalendar([Entry(day=date(2026, 3, 2), title="pH, HC-07")]).splitlines()[-3]
    'SUMMARY:pH\\\\, HC-07'
    """
    stamp = (made or datetime.now(UTC)).astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//labkit//stability//EN"]
    for entry in entries:
        name = sha256(f"{entry.day}|{entry.title}".encode()).hexdigest()[:32]
        lines += [
            "BEGIN:VEVENT",
            f"UID:{name}@labkit",
            f"DTSTAMP:{stamp}",
            f"DTSTART;VALUE=DATE:{entry.day:%Y%m%d}",
            f"DTEND;VALUE=DATE:{entry.day + timedelta(days=1):%Y%m%d}",
            *([f"DESCRIPTION:{_escaped(entry.words)}"] if entry.words else []),
            f"SUMMARY:{_escaped(entry.title)}",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _escaped(words: str) -> str:
    text = words.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return "\\n".join(text.splitlines())


def _folded(line: str) -> str:
    """Cut after at most 75 octets, never inside a character; what follows begins with a blank."""
    parts, rest, room = [], line, WIDTH
    while len(rest.encode()) > room:
        cut = rest.encode()[:room].decode(errors="ignore")
        parts.append(cut)
        rest, room = rest[len(cut) :], WIDTH - 1
    return "\r\n ".join([*parts, rest])
