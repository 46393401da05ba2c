"""MATLAB files: versions 4 to 7.2 read here, version 7.3 as the HDF5 it is.

Variables follow one another in the file, so that a torn one is read to the tear.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats import hdf5_matlab
from firstlift.formats.hdf5 import open_container
from firstlift.formats.matlab_variables import HEADER_BYTES, Variable, v4_order, v4_variables, v5_variables
from firstlift.formats.own_time import Found, with_own_time
from firstlift.formats.seam import FOREIGN, Guess, Reader, Source, SourceChannel, array_reader, damaged

NAME = "MATLAB"
_MARKS = {b"IM": "<", b"MI": ">"}
_MOST_COLUMNS = 4096


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are a MATLAB file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if head.startswith(b"MATLAB 7.3 MAT-file"):
        return Guess(NAME, 1.0, "begins with the heading of MATLAB 7.3 (HDF5)")
    if head[126:128] in _MARKS and (head.startswith(b"MATLAB") or head[124:126] in (b"\x00\x01", b"\x01\x00")):
        return Guess(NAME, 1.0, "begins with the heading of a MATLAB file")
    if name.lower().endswith(".mat") and v4_order(head):
        return Guess(NAME, 0.7, "begins like a MATLAB 4 file and its name ends in .mat")
    ending = ", though its name says so" if name.lower().endswith(".mat") else ""
    return Guess(NAME, 0.0, f"does not begin with the heading of a MATLAB file{ending}")


def open_file(path: Path) -> Source:
    """Open a MATLAB file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        Fields of structures are named with dots, columns of a matrix "name(:,1)" and on. A channel's own
        time base is a field "time" or "t" of the same structure.

    Raises
    ------
    FirstliftError
        REC-001 cannot be read, REC-004 damaged or torn in its first variable, REC-005 no variables.
    """
    where = path.name
    try:
        file = path.open("rb")
        head = file.read(HEADER_BYTES)
        size = path.stat().st_size
    except OSError as error:
        raise FirstliftError(Problem("REC-001", f"the recording cannot be read: {error.strerror}", where)) from error
    if head.startswith(b"MATLAB 7.3"):
        file.close()
        return open_container(path, NAME, hdf5_matlab.channels_of)
    try:
        variables, torn = _variables(file, head, size)
        channels = with_own_time([found for variable in variables for found in _columns(variable, where)])
    except FOREIGN as error:
        file.close()
        raise damaged(NAME, where, error) from error
    if not channels:
        file.close()
        if torn:
            raise damaged(NAME, where, "it was cut off or is damaged in its first variable")
        raise FirstliftError(Problem("REC-005", "the MATLAB file holds no variables", where, "variables of numbers"))
    return Source(NAME, channels, torn=torn, on_close=file.close)


def _variables(file: BinaryIO, head: bytes, size: int) -> tuple[list[Variable], bool]:
    order = _MARKS.get(head[126:128])
    return v4_variables(file, size) if order is None else v5_variables(file, order, size)


def _columns(variable: Variable, where: str) -> list[Found]:
    """Give a row or a column as one channel, of a matrix every column that is there."""
    name, shape = variable.name, variable.shape
    width = int(variable.code[-1])
    why_not = variable.why_not or ("" if len(shape) == 2 else f"has {len(shape)} dimensions")
    if not why_not and 1 not in shape and 0 not in shape and shape[1] > _MOST_COLUMNS:
        why_not = f"is a matrix of {shape[0]} by {shape[1]}"
    if why_not:
        return [_found(name, 0, array_reader(np.empty(0)), why_not)]
    if 1 in shape or 0 in shape:
        return [_found(name, variable.there // width, _reader(variable, 0, where))]
    whole = [n for n in range(shape[1]) if (n + 1) * shape[0] * width <= variable.there]
    return [_found(f"{name}(:,{n + 1})", shape[0], _reader(variable, n * shape[0], where)) for n in whole]


def _found(name: str, length: int, reader: Reader, why_not: str = "") -> Found:
    group, _, short = name.rpartition(".")
    aliases = (short,) if group else ()
    return Found(group, SourceChannel(name, length, reader, aliases=aliases, why_not=why_not))


def _reader(variable: Variable, first: int, where: str) -> Reader:
    run = variable.run.again()
    width = int(variable.code[-1])

    def read(start: int, stop: int) -> NDArray[Any]:
        if stop <= start:
            return np.empty(0)
        try:
            raw = run.read(variable.at + (first + start) * width, (stop - start) * width)
            if len(raw) != (stop - start) * width:
                raise EOFError("it ends before the numbers it states")
        except FOREIGN as error:
            raise damaged(NAME, where, f"variable '{variable.name}': {error}") from error
        return np.frombuffer(raw, dtype=variable.code)

    return read
