"""Reads a calendar file as RFC 5545 says, with nothing of the package that wrote it."""

import re


def unfold(file: bytes) -> list[tuple[str, str, str]]:
    """Each content line as (name, parameters, value), as RFC 5545 section 3.1 reads them; nothing of icalendar's."""
    assert file.endswith(b"\r\n")
    lines = file.removesuffix(b"\r\n").split(b"\r\n")
    assert not any(b"\r" in line or b"\n" in line for line in lines)
    assert all(len(line) <= 75 for line in lines)
    whole: list[bytes] = []
    for line in lines:
        if line.startswith((b" ", b"\t")):
            whole[-1] += line[1:]
        else:
            whole.append(line)
    split = [re.fullmatch(r"([A-Z-]+)((?:;[^:]*)?):(.*)", line.decode(), re.DOTALL) for line in whole]
    assert all(split)
    return [match.groups() for match in split]


def unescape(value: str) -> str:
    """A TEXT value as RFC 5545 section 3.3.11 reads it; a bare comma or semicolon would be a fault."""
    assert re.fullmatch(r"(?:[^\\,;]|\\[\\,;nN])*", value)
    return re.sub(r"\\(.)", lambda match: "\n" if match[1] in "nN" else match[1], value)


def blocks(file: bytes, name: str) -> list[list[tuple[str, str, str]]]:
    """The lines of each component of a name, those of what stands inside it left out."""
    found, stack = [], []
    for line in unfold(file):
        if line[0] == "BEGIN":
            stack.append((line[2], []))
        elif line[0] == "END":
            ended, lines = stack.pop()
            assert ended == line[2]
            if ended == name:
                found.append(lines)
        else:
            stack[-1][1].append(line)
    assert stack == []
    return found


def values(lines: list[tuple[str, str, str]], name: str) -> list[str]:
    """The values of each line of a name."""
    return [value for found, _, value in lines if found == name]
