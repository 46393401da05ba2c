"""The letters papers are set in: those of the typesetter, and for Chinese a font that has to be found.

Latin, Greek, Cyrillic and Arabic come with the typesetter, so that the same input gives the same bytes everywhere.
Chinese letters are looked for, in this order: in the folder that the issuer names, in an installed package of fonts,
among the system's fonts. Papers in Chinese are the same bytes only where the same font is found.
"""

from __future__ import annotations

import functools
import importlib.util
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstlift.core.errors import FirstliftError, Problem

# packages that hold nothing but such a font, by the name they are imported by
PACKAGES = ("justmytype_intl_cjk", "manimgx_fonts_cjk")
# families with the letters of simplified Chinese, those with serifs first: they stand beside the serif face of the rest
FAMILIES = (
    "Noto Serif CJK SC", "Source Han Serif SC", "Noto Serif SC", "Noto Sans CJK SC", "Source Han Sans SC",
    "Noto Sans SC", "FandolSong", "Songti SC", "SimSun", "NSimSun", "STSong", "PingFang SC", "Microsoft YaHei",
    "SimHei", "LXGW WenKai", "WenQuanYi Zen Hei", "WenQuanYi Micro Hei", "AR PL UMing", "AR PL SungtiL GB",
    "Droid Sans Fallback",
)  # fmt: skip
# letters that a page needs at least: a font that lacks one of them serves not
_PROBE = "安全阀整定压力证书检验员签字，。：；（）“”、"
_NEEDING = frozenset({"zh"})


@dataclass(frozen=True, slots=True)
class Letters:
    """A typesetter with the fonts for a language; ``families`` stand behind its own two, in their order."""

    compiler: Any
    families: tuple[str, ...] = ()


@functools.cache
def letters_for(language: str, folder: str = "") -> Letters:
    """Give a typesetter that has the letters of a language.

    Parameters
    ----------
    language : str
    folder : str
        Folder with fonts that the issuer names; empty for none. Its fonts serve every language where the typesetter's
        own have no letter.

    Returns
    -------
    Letters

    Raises
    ------
    FirstliftError
        WRD-002 no font with the language's letters was found; CRT-004 the folder holds no font.
    """
    own = _families(folder) if folder else ()
    if folder and not own:
        raise FirstliftError(
            Problem("CRT-004", "no font is in it", folder, "a folder with fonts (.ttf, .otf, .ttc)",
                    "See docs/certificate.md")
        )  # fmt: skip
    if language not in _NEEDING:
        return Letters(_compiler((folder,) if folder else ()), own)
    for place, names in _places(folder, own):
        for family in names:
            if _has_letters(place, family):
                return Letters(_compiler((place,)), (family, *(name for name in own if name != family)))
    raise _none_found(folder)


def can_print(language: str, folder: str = "") -> bool:
    """Say whether the letters of a language are there.

    Parameters
    ----------
    language : str
    folder : str
        As for `letters_for`.

    Returns
    -------
    bool
    """
    try:
        letters_for(language, folder)
    except FirstliftError:
        return False
    return True


def _places(folder: str, own: Sequence[str]) -> Iterator[tuple[str, Sequence[str]]]:
    """Give where such a font may lie, with the families to try there; nothing is looked at before it is asked for."""
    if folder:
        yield folder, (*(name for name in FAMILIES if name in own), *(name for name in own if name not in FAMILIES))
    for package in _package_folders():
        here = _families(package)
        yield package, [name for name in FAMILIES if name in here]
    system = _system_fonts()
    for name in FAMILIES:
        if name in system:
            yield system[name], [name]


def _package_folders() -> Iterator[str]:
    for package in PACKAGES:
        found = importlib.util.find_spec(package)
        yield from () if found is None else (found.submodule_search_locations or ())


def _families(folder: str) -> tuple[str, ...]:
    import typst

    return tuple(sorted(typst.Fonts(False, False, [folder]).families()))


def _system_fonts() -> dict[str, str]:
    """Give the system's families with the folder each lies in."""
    import typst

    fonts = typst.Fonts(include_system_fonts=True, include_embedded_fonts=False).fonts()
    return {font.family: str(Path(font.path).parent) for font in fonts if font.path}


def _has_letters(folder: str, family: str) -> bool:
    import typst

    source = f'#set text(font: ("{family}",), fallback: false)\n#text({_quoted(_PROBE)})'
    try:
        # a page of PDF/A is refused where a letter is missing
        _compiler((folder,)).compile(input=source.encode(), format="pdf", pdf_standards=["a-3b"], sys_inputs={})
    except typst.TypstError:
        return False
    return True


def _quoted(words: str) -> str:
    return f'"{words}"'


@functools.cache
def _compiler(folders: tuple[str, ...]) -> Any:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=list(folders))
    return typst.Compiler(font_paths=fonts, ignore_system_fonts=True)


def _none_found(folder: str) -> FirstliftError:
    looked = f"{folder}, installed packages and the system's fonts" if folder else "installed packages, system's fonts"
    return FirstliftError(
        Problem(
            "WRD-002",
            "Chinese needs a font with its letters, and none was found",
            looked,
            f"a font such as {FAMILIES[0]} or {FAMILIES[3]}",
            "Install one (on Debian: fonts-noto-cjk), or name a folder that holds one: fonts in [layout] of the "
            "issuer's settings",
        )
    )
