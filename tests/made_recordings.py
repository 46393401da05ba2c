"""Bytes of recordings, built by hand from the layout of each format; the values are invented."""

import io
import struct
import zlib

import h5py
import numpy as np


def block(mark, links, data):
    """Give a block of MDF 4: mark, length, links, data, filled up to eight bytes."""
    body = (
        struct.pack(f"<4s4xQQ{len(links)}Q", b"##" + mark, 24 + 8 * len(links) + len(data), len(links), *links) + data
    )
    return body + bytes(-len(body) % 8)


class Mdf:
    """An MDF 4 file in the making: blocks are put one behind the other, what is linked to first."""

    def __init__(self, *, unclosed=False):
        self.unclosed = unclosed
        self.data = bytearray(168)

    def put(self, mark, links=(), data=b""):
        at = len(self.data)
        self.data += block(mark, links, data)
        return at

    def text(self, text, mark=b"TX"):
        return self.put(mark, (), text.encode() + b"\0") if text else 0

    def conversion(self, kind, values, unit=""):
        numbers = struct.pack(f"<BBHHHdd{len(values)}d", kind, 0, 0, 0, len(values), 0.0, 0.0, *values)
        return self.put(b"CC", (0, self.text(unit), 0, 0), numbers)

    def channel(
        self, name, after, *, offset, bits, coding=4, kind=0, sync=0, unit="", cc=0, shift=0, flags=0, invalid=0
    ):
        data = struct.pack(
            "<BBBBIIIIBxHdddddd", kind, sync, coding, shift, offset, bits, flags, invalid, 0, 0, *[0.0] * 6
        )
        return self.put(b"CN", (after, 0, self.text(name), 0, cc, 0, self.text(unit), 0), data)

    def group(self, after, first_channel, count, record_bytes, *, name="", number=0, invalid_bytes=0):
        data = struct.pack("<QQHH4xII", number, count, 0, 0, record_bytes, invalid_bytes)
        return self.put(b"CG", (after, first_channel, self.text(name), 0, 0, 0), data)

    def samples(self, records, how="plain"):
        """Put records as one block, as a list of three, or packed."""
        if how == "plain":
            return self.put(b"DT", (), records)
        if how == "list":
            third = len(records) // 3  # cut in the midst of a record, as writers do
            parts = [records[:third], records[third : 2 * third], records[2 * third :]]
            blocks = [self.put(b"DT", (), part) for part in parts]
            return self.put(b"DL", (0, *blocks), struct.pack("<B3xI3Q", 0, 3, 0, third, 2 * third))
        return self.put(
            b"HL", (self.put(b"DL", (0, self.packed(records, how)), struct.pack("<B3xIQ", 0, 1, 0)),), bytes(8)
        )

    def packed(self, records, how):
        method, width, data = 0, 0, records
        if how != "deflate":
            method, width = 1, int(how)
            rows = len(records) // width
            square = np.frombuffer(records[: rows * width], dtype=np.uint8).reshape(rows, width)
            data = square.T.tobytes() + records[rows * width :]
        squeezed = zlib.compress(data)
        return self.put(
            b"DZ", (), struct.pack("<2sBxIQQ", b"DT", method, width, len(records), len(squeezed)) + squeezed
        )

    def data_group(self, after, group, samples, id_bytes=0):
        return self.put(b"DG", (after, group, samples, 0), struct.pack("<B7x", id_bytes))

    def finish(self, first_data_group):
        mark = b"UnFinMF " if self.unclosed else b"MDF     "
        head = (
            mark + b"4.10    " + b"invented" + bytes(4) + struct.pack("<H", 410) + bytes(30) + struct.pack("<HH", 0, 0)
        )
        heading = block(
            b"HD", (first_data_group, 0, 0, 0, 0, 0), struct.pack("<QhhBBBBdd", 0, 0, 0, 0, 0, 0, 0, 0.0, 0.0)
        )
        self.data[:168] = head + heading
        return bytes(self.data)


def mdf(groups, *, how="plain", unclosed=False, samples_last=False):
    """Give an MDF 4 file of float channels.

    ``groups`` is a list of (time, {name: (values, unit)}); ``time`` an array, or a step for an index as time.
    ``samples_last``: the description stands first and the samples of the last group at the end.
    """
    file = Mdf(unclosed=unclosed)
    first, late = 0, []
    for time, channels in reversed(groups):
        stepped = isinstance(time, float)
        columns = ([] if stepped else [time]) + [values for values, _ in channels.values()]
        records = np.column_stack(columns).astype("<f8").tobytes()
        link, offset = 0, 8 * (len(columns) - 1)
        for name, (_, unit) in reversed(channels.items()):
            link = file.channel(name, link, offset=offset, bits=64, unit=unit)
            offset -= 8
        cc = file.conversion(1, [0.0, time]) if stepped else 0
        kind = {"kind": 3, "cc": cc, "coding": 0} if stepped else {"kind": 2}
        link = file.channel("time", link, offset=0, bits=64, sync=1, unit="s", **kind)
        group = file.group(0, link, 0 if unclosed else len(columns[0]), 8 * len(columns))
        data = 0 if samples_last else file.samples(records, how)
        first = file.data_group(first, group, data)
        late.append((first, records))
    for at, records in late if samples_last else []:
        data = file.samples(records, how)
        file.data[at + 40 : at + 48] = struct.pack("<Q", data)
    return file.finish(first)


def wav(frames, rate_hz, *, bits, floats=False, extensible=False, size=None, after=b"", container=b"RIFF"):
    """Give a WAV file of frames (n, channels), each value a share of full scale; ``size`` is what it states."""
    frames = np.atleast_2d(frames.T).T
    data = _coded(frames, bits, floats)
    channels, width = frames.shape[1], bits // 8
    coding = 3 if floats else 1
    fmt = struct.pack("<HHIIHH", 0xFFFE if extensible else coding, channels, rate_hz, rate_hz * channels * width,
                      channels * width, bits)  # fmt: skip
    if extensible:
        fmt += struct.pack("<HHIH", 22, bits, 0, coding) + bytes.fromhex("000000001000800000aa00389b71")
    chunks = b"fmt " + struct.pack("<I", len(fmt)) + fmt
    if container == b"RF64":
        chunks = b"ds64" + struct.pack("<IQQQI", 28, 0, len(data), 0, 0) + chunks
        size = 0xFFFFFFFF
    chunks += b"LIST" + struct.pack("<I", 5) + b"odd!!" + b"\0"  # an odd chunk is filled up by a byte
    chunks += b"data" + struct.pack("<I", len(data) if size is None else size) + data + bytes(len(data) % 2) + after
    return container + struct.pack("<I", min(4 + len(chunks), 0xFFFFFFFF)) + b"WAVE" + chunks


def _coded(frames, bits, floats):
    if floats:
        return frames.astype(f"<f{bits // 8}").tobytes()
    numbers = np.round(frames * 2.0 ** (bits - 1)).astype("<i8")
    if bits == 8:
        numbers = numbers + 128
    return np.ascontiguousarray(numbers).view(np.uint8).reshape(*numbers.shape, 8)[:, :, : bits // 8].tobytes()


def lvm_head(separator="\t", decimal=".", headings="No", x_columns="One"):
    name = {"\t": "Tab", ",": "Comma", ";": "Semicolon"}[separator]
    rows = [
        ["LabVIEW Measurement", ""], ["Writer_Version", "2"], ["Reader_Version", "2"], ["Separator", name],
        ["Decimal_Separator", decimal], ["Multi_Headings", headings], ["X_Columns", x_columns],
        ["Time_Pref", "Relative"], ["Date", "2026/05/12"], ["Time", "09:30:00,0"], ["***End_of_Header***", ""],
    ]  # fmt: skip
    return "".join(separator.join(row) + "\n" for row in rows) + "\n"


def lvm_segment(channels, *, dt_s, x0_s=0.0, separator="\t", decimal=".", x_columns="One", time="09:30:00", digits=6):
    """Give a segment; ``channels`` is {name: (values, unit)}, ``dt_s`` one step or {name: step}."""
    steps = {name: dt_s[name] if isinstance(dt_s, dict) else dt_s for name in channels}

    def number(value):
        return f"{value:.{digits}f}".replace(".", decimal)

    multi = x_columns == "Multi"
    head = {
        "Channels": [str(len(channels))],
        "Samples": [str(len(values)) for values, _ in channels.values()],
        "Date": ["2026/05/12"] * len(channels),
        "Time": [f"{time}{decimal}25"] * len(channels),
        "Y_Unit_Label": [unit for _, unit in channels.values()],
        "X_Dimension": ["Time"] * len(channels),
        "X0": [f"{x0_s:.16E}".replace(".", decimal)] * len(channels),
        "Delta_X": [f"{step:.9f}".replace(".", decimal) for step in steps.values()],
    }
    gap = [""] if multi else []
    lines = []
    for tag, entries in head.items():
        spread = entries if tag == "Channels" else [part for entry in entries for part in (entry, *gap)]
        lines.append(separator.join([tag, *spread]))
    lines.append(separator.join(["***End_of_Header***"]))
    names = [part for name in channels for part in (("X_Value", name) if multi else (name,))]
    lines.append(separator.join([*([] if multi else ["X_Value"]), *names, "Comment"]))
    for row in range(max(len(values) for values, _ in channels.values())):
        fields = []
        for place, (name, (values, _)) in enumerate(channels.items()):
            there = row < len(values)
            if multi or (place == 0 and x_columns == "One"):
                fields.append(number(x0_s + row * steps[name]) if there else "")
            elif place == 0:
                fields.append("")
            fields.append(number(values[row]) if there else "")
        lines.append(separator.join(fields))
    return "\n".join(lines) + "\n\n"


def matlab_73(variables):
    """Give a MATLAB 7.3 file: its heading in the block of the user, then HDF5; dots in names make structures."""
    buffer = io.BytesIO()
    with h5py.File(buffer, "w", userblock_size=512) as file:
        for name, value in variables.items():
            *groups, last = name.split(".")
            group = file.require_group("/".join(groups)) if groups else file
            if isinstance(value, str):
                data = group.create_dataset(last, data=np.array([[ord(c)] for c in value], dtype="u2"))
                kind = "char"
            else:
                array = np.atleast_2d(value)
                data = group.create_dataset(last, data=array.T, chunks=array.T.shape if array.size else None)
                kind = {"f8": "double", "f4": "single"}.get(array.dtype.str[1:], array.dtype.name)
            data.attrs["MATLAB_class"] = np.bytes_(kind)
    content = bytearray(buffer.getvalue())
    head = b"MATLAB 7.3 MAT-file, invented".ljust(116) + bytes(8) + struct.pack("<H", 0x0200) + b"IM"
    content[:128] = head
    return bytes(content)
