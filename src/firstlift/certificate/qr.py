"""The QR code of a certificate: its number and its seal, as a picture made of lines."""

from __future__ import annotations

LONGEST_NUMBER = 120


def code_text(number: str, seal: str) -> str:
    """Give the text that the code carries: program, number and seal, parted by one space.

    Parameters
    ----------
    number : str
        Cut where it is longer than a code can hold with room to spare.
    seal : str
        64 hexadecimal digits.

    Returns
    -------
    str
    """
    return f"FIRSTLIFT {number[:LONGEST_NUMBER]} {seal.upper()}"


def draw_code(number: str, seal: str) -> str:
    """Draw the code; a quarter of it may be dirty or torn off before it cannot be read.

    Parameters
    ----------
    number, seal : str

    Returns
    -------
    str
        SVG with the quiet zone of four modules that a reader needs.
    """
    import segno

    code = segno.make(code_text(number, seal), error="q", micro=False, boost_error=False)
    side = code.symbol_size(scale=1, border=4)[0]
    runs: list[str] = []
    for y, row in enumerate(code.matrix):
        start = None
        for x, dark in enumerate((*row, 0)):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                runs.append(f"M{start + 4} {y + 4}h{x - start}v1h-{x - start}z")
                start = None
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}" height="{side}" viewBox="0 0 {side} {side}">'
        f'<rect width="{side}" height="{side}" fill="#ffffff"/><path d="{"".join(runs)}" fill="#000000"/></svg>\n'
    )
