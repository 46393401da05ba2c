"""What `firstlift analyse` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    analyse = commands.add_parser(
        "analyse", help="recordings to results", description="Analyse recordings by their job sheets."
    )
    analyse.add_argument("jobsheet", nargs="+", metavar="JOBSHEET", help="job sheet (TOML) that names its recording")
    analyse.add_argument("--json", action="store_true", help="print the result as JSON, one object a line for several")
    analyse.add_argument("--certificate", metavar="OUT.pdf", help="write the certificate (one job sheet only)")
    paper = analyse.add_argument_group("the certificate")
    paper.add_argument("--sign", metavar="KEY.p12", help="sign with this key (default: one this program made)")
    paper.add_argument("--passphrase-file", metavar="FILE", help="its first line is the key's passphrase")
    paper.add_argument("--unsigned", action="store_true", help="leave it unsigned: same input, same bytes")
    paper.add_argument("--timestamp", metavar="URL", default="", help="take a time stamp from this RFC 3161 server")
    paper.add_argument("--issuer", metavar="ISSUER.toml", help="the issuer's settings: name, rules, layout, logo")
    paper.add_argument(
        "--attach-up-to",
        type=_bytes,
        default=8_000_000,
        metavar="SIZE",
        help="largest recording that is attached; above it, its hash alone (default 8 MB)",
    )
    paper.add_argument(
        "--language", metavar="CODE", help="en, de, fr, es, nl, pl, el, ar or zh; of the findings as well"
    )
    paper.add_argument("--pressure-unit", type=_pressure_unit, metavar="UNIT", help="bar, kPa, MPa, psi or kg/cm2")
    paper.add_argument("--draft", action="store_true", help="with a watermark: not reviewed, not issued")
    paper.add_argument("--certificates", metavar="FOLDER", help="write one for each job sheet, named by its number")
    analyse.add_argument("--plot", metavar="OUT.svg", help="draw the first pull that lifted (one job sheet only)")
    analyse.add_argument(
        "--store",
        metavar="PATH|URL",
        help="fill the job sheet from this register: valve by tag, instruments by serial, rules, seat in force",
    )
    analyse.add_argument("--keep", action="store_true", help="keep the test in the register (with --store)")
    analyse.add_argument("--supersedes", metavar="TEST", help="the kept test that this one corrects (with --keep)")
    analyse.add_argument("--visit", metavar="VISIT", help="the visit it belongs to: name or identifier (with --keep)")
    analyse.add_argument("--by", metavar="PERSON", help="who keeps it: a person of the register")
    analyse.set_defaults(run="firstlift.cli.analyse")


def _bytes(text: str) -> int:
    number, _, unit = text.strip().partition(" ")
    scale = {"": 1, "B": 1, "kB": 1000, "MB": 1_000_000, "GB": 1_000_000_000}.get(unit.strip())
    if scale is None or not (number.isdecimal() and len(number) < 12):
        message = f"'{text}' is not a size such as '8 MB'"
        raise argparse.ArgumentTypeError(message)
    return int(number) * scale


def _pressure_unit(text: str) -> str:
    from firstlift.certificate.settings import PRESSURE_UNITS

    unit = "kgf/cm2" if text == "kg/cm2" else text
    if unit not in PRESSURE_UNITS:
        raise argparse.ArgumentTypeError(f"{text!r} is none of bar, kPa, MPa, psi, kg/cm2")
    return unit
