"""ASAM MDF 4 files, read here: channel groups at their own rates, each with its own time channel ("master").

Why no library does it: docs/decisions/0005. Sorted files are read, packed or not; of a torn one the records
before the tear.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.mdf_blocks import Block, BlockError, Blocks
from firstlift.formats.mdf_channel import Field, field_of, reader_of
from firstlift.formats.mdf_records import Records, records_at
from firstlift.formats.seam import FOREIGN, Guess, Source, SourceChannel, array_reader, damaged, even_step

NAME = "MDF"
_CLOSED, _OPEN = b"MDF     ", b"UnFinMF "
_HEADING_AT = 64
_TEXTS = 0x1 | 0x8  # group flags: texts of any length; stamps kept in another group


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are an MDF file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if head[:8] in (_CLOSED, _OPEN):
        return Guess(NAME, 1.0, f"begins with '{head[:8].decode().strip()}'")
    ending = ", though its name says so" if name.lower().endswith((".mf4", ".mdf")) else ""
    return Guess(NAME, 0.0, f"does not begin with 'MDF'{ending}")


def open_file(path: Path) -> Source:
    """Open an MDF 4 file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        Channels in their own units, conversion applied, each on the time channel of its group; a channel
        answers to "group/name" too.

    Raises
    ------
    FirstliftError
        REC-001 cannot be read, REC-003 another version, REC-004 damaged or cut off before its channels are
        described, REC-005 no channels.
    """
    try:
        file = path.open("rb")
        head = file.read(_HEADING_AT)
        blocks = Blocks(file, path.stat().st_size)
    except OSError as error:
        raise FirstliftError(
            Problem("REC-001", f"the recording cannot be read: {error.strerror}", path.name)
        ) from error
    try:
        _check_version(head, path.name)
        channels, torn = _channels(blocks, path.name, unclosed=head.startswith(_OPEN))
    except FirstliftError:
        file.close()
        raise
    except FOREIGN as error:
        file.close()
        raise damaged(NAME, path.name, _told(error)) from error
    if not channels:
        file.close()
        raise FirstliftError(Problem("REC-005", "the MDF file holds no channels", path.name, "channels of numbers"))
    return Source(NAME, tuple(channels), torn=torn, on_close=file.close)


def _told(error: BaseException) -> str:
    if isinstance(error, BlockError):
        return f"it was cut off or is damaged where its channels are described ({error})"
    return str(error)


def _check_version(head: bytes, where: str) -> None:
    if len(head) < _HEADING_AT:
        raise damaged(NAME, where, "it was cut off in its first bytes")
    version = head[8:16].split(b"\0")[0].decode("ascii", "replace").strip()
    if not version.startswith("4"):
        raise FirstliftError(
            Problem("REC-003", f"the MDF file is of version {version[:8]!r}", where, "version 4", "Convert it to MDF 4")
        )


def _channels(blocks: Blocks, where: str, *, unclosed: bool) -> tuple[list[SourceChannel], bool]:
    heading = blocks.read(_HEADING_AT, "HD")
    groups: list[_Group] = []
    torn = unclosed
    try:
        for data_group in blocks.chain(heading.link(0), "DG"):
            groups += _groups(blocks, data_group, len(groups))
    except BlockError:
        if not groups:
            raise
        torn = True
    found: list[SourceChannel] = []
    for group in groups:
        try:
            channels, cut = _of_group(blocks, group, where, unclosed=unclosed)
        except NotImplementedError:
            channels, cut = _unread(group, "is stored in columns or packed in a way that is not read"), False
        found += channels
        torn = torn or cut
    return found, torn


@dataclass(frozen=True, slots=True)
class _Group:
    """A channel group: its fields in a record, and what the file says of how many records there are."""

    name: str
    fields: tuple[Field, ...]
    count: int
    id_bytes: int
    data_bytes: int
    record_bytes: int
    data_at: int
    why_not: str


def _groups(blocks: Blocks, data_group: Block, before: int) -> list[_Group]:
    (id_bytes,) = data_group.unpack("B")
    found: list[_Group] = []
    members = list(blocks.chain(data_group.link(1), "CG"))
    for number, block in enumerate(members, start=before + 1):
        _, count, flags = block.unpack("QQH")
        data_bytes, invalid_bytes = block.unpack("II", 24)
        fields = tuple(field_of(blocks, channel) for channel in blocks.chain(block.link(1), "CN"))
        why_not = "holds texts or has its stamps in another group, which is not read" if int(flags) & _TEXTS else ""
        if len(members) > 1:
            why_not = "stands unsorted among channels of other rates: sort the file where it was recorded"
        found.append(
            _Group(
                blocks.text(block.link(2)) or f"group {number}",
                fields,
                int(count),
                int(id_bytes),
                int(data_bytes),
                int(id_bytes) + int(data_bytes) + int(invalid_bytes),
                data_group.link(2),
                why_not,
            )
        )
    return found


def _unread(group: _Group, why_not: str) -> list[SourceChannel]:
    return [
        SourceChannel(
            field.name,
            group.count,
            array_reader(np.empty(0)),
            aliases=(f"{group.name}/{field.name}",),
            why_not=why_not,
        )
        for field in group.fields
    ]


def _of_group(blocks: Blocks, group: _Group, where: str, *, unclosed: bool) -> tuple[list[SourceChannel], bool]:
    """Give a group's channels as far as its records were written, and whether some are missing."""
    if group.why_not or not group.record_bytes:
        return _unread(group, group.why_not or "has no records"), False
    records = records_at(blocks, group.data_at, open_end=unclosed)
    there = records.length // group.record_bytes
    # a writer fills in the count when it closes the file
    length = there if unclosed or (group.count == 0 and there) else min(group.count, there)
    torn = records.torn or there < group.count or (group.count == 0 and there > 0)
    channels = [_channel(field, group, records, length, where) for field in group.fields]
    masters = [(field, channel) for field, channel in zip(group.fields, channels, strict=True) if field.is_time]
    if len(masters) != 1 or masters[0][1].why_not:
        return channels, torn
    field, master = masters[0]
    line = field.conversion.line
    if field.is_index and line is not None:
        step = even_step(line[1])
        return [c if c is master else replace(c, dt_s=step, t0_s=line[0]) for c in channels], torn
    return [c if c is master else replace(c, time=master) for c in channels], torn


def _channel(field: Field, group: _Group, records: Records, length: int, where: str) -> SourceChannel:
    why_not = field.why_not or field.conversion.why_not
    if not why_not and not field.is_index and field.offset + field.width > group.data_bytes:
        why_not = "stands outside its record"
    return SourceChannel(
        field.name,
        length,
        array_reader(np.empty(0))
        if why_not
        else reader_of(field, records, group.record_bytes, group.id_bytes, group.data_bytes, where),
        field.unit or field.conversion.unit or ("s" if field.is_time else None),
        aliases=(f"{group.name}/{field.name}",),
        why_not=why_not,
    )
