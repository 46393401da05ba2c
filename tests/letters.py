"""A font made for tests: a square for every letter of a text, so that Chinese can be set where no real font is."""

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

FAMILY = "Noto Sans SC"


def make_font(folder, text, family=FAMILY):
    """Write a font with the letters of a text into a folder; give the folder."""
    letters = sorted({letter for letter in text if ord(letter) > 0x2000})
    names = [f"u{ord(letter):05X}" for letter in letters]
    pen = TTGlyphPen(None)
    for x, y in ((50, 0), (50, 800), (850, 800), (850, 0)):
        (pen.moveTo if (x, y) == (50, 0) else pen.lineTo)((x, y))
    pen.closePath()
    square = pen.glyph()
    order = [".notdef", *names]
    font = FontBuilder(1000, isTTF=True)
    font.setupGlyphOrder(order)
    font.setupCharacterMap({ord(letter): name for letter, name in zip(letters, names, strict=True)})
    font.setupGlyf(dict.fromkeys(order, square))
    font.setupHorizontalMetrics(dict.fromkeys(order, (900, 50)))
    font.setupHorizontalHeader(ascent=880, descent=-120)
    font.setupNameTable({"familyName": family, "styleName": "Regular", "psName": family.replace(" ", "")})
    font.setupOS2(sTypoAscender=880, usWinAscent=880, usWinDescent=120)
    font.setupPost()
    folder.mkdir(parents=True, exist_ok=True)
    font.save(folder / "squares.ttf")
    return folder
