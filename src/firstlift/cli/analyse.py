"""``firstlift analyse``: recordings to results."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import json
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack, nullcontext
from pathlib import Path

from firstlift.cli.progress import Progress
from firstlift.cli.show import prints_unicode, show
from firstlift.cli.summary import summary
from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.result import DispositionOutcome, Result, VerdictOutcome, to_json
from firstlift.usecases.analyse import Analysed, analyse_jobsheet, say_in


def passed(result: Result) -> bool:
    """Say whether a result is within and fit.

    Parameters
    ----------
    result : Result

    Returns
    -------
    bool
    """
    within = result.verdict is not None and result.verdict.outcome is VerdictOutcome.WITHIN
    return within and result.disposition.outcome is DispositionOutcome.FIT


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 all within and fit, 1 any other result, 3 where a recording could not be formed.

    Raises
    ------
    FirstliftError
        The only job sheet could not be analysed.
    """
    sheets = [Path(name) for name in arguments.jobsheet]
    if len(sheets) > 1 and (arguments.certificate or arguments.plot):
        raise UsageError(
            Problem(
                "USE-002", "--certificate and --plot take one job sheet", f"{len(sheets)} were given", "one job sheet"
            )
        )
    with ExitStack() as stack:
        return _analyse_all(sheets, arguments, stack)


def _analyse_all(sheets: list[Path], arguments: argparse.Namespace, stack: ExitStack) -> int:
    analyse_one = _way(arguments, stack)
    with _progress(arguments, sheets) as drawn:
        return _each(sheets, arguments, analyse_one, drawn)


def _each(
    sheets: list[Path],
    arguments: argparse.Namespace,
    analyse_one: Callable[[Path], Analysed],
    drawn: Progress | None,
) -> int:
    code = 0
    for number, sheet in enumerate(sheets):
        if drawn is not None:
            drawn(number / len(sheets), number)
        try:
            analysed = _spoken(analyse_one(sheet), arguments)
            _write(analysed, arguments)
        except FirstliftError as error:
            if len(sheets) == 1:
                raise
            for problem in error.problems:
                print(f"firstlift: {sheet}: {problem.sentence()}", file=sys.stderr)
            code = max(code, error.exit_code)
            continue
        _show(analysed, arguments, first=number == 0)
        code = max(code, 0 if passed(analysed.analysis.result) else 1)
    return code


def _spoken(analysed: Analysed, arguments: argparse.Namespace) -> Analysed:
    """Say the findings in the language and unit asked for."""
    if not arguments.language and not arguments.pressure_unit:
        return analysed
    return say_in(analysed, language=arguments.language or "en", pressure_unit=arguments.pressure_unit or "")


def _progress(arguments: argparse.Namespace, sheets: list[Path]) -> AbstractContextManager[Progress | None]:
    """Draw a bar where many papers are made and what is said of each goes elsewhere than to the terminal."""
    if arguments.certificates and len(sheets) > 1 and not sys.stdout.isatty():
        return Progress("certificates")
    return nullcontext()


def _way(arguments: argparse.Namespace, stack: ExitStack) -> Callable[[Path], Analysed]:
    """Give how one sheet is analysed: by itself, or filled from the register."""
    kept = (arguments.keep, arguments.supersedes, arguments.visit, arguments.by)
    if arguments.store is None and not any(kept):
        return analyse_jobsheet
    import tempfile

    from firstlift.cli.analyse_register import analyse_sheet, check_options

    check_options(arguments)
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="firstlift-")))
    return lambda sheet: analyse_sheet(sheet, arguments, folder)


def _write(analysed: Analysed, arguments: argparse.Namespace) -> None:
    """Make every file in memory before the first is written."""
    from firstlift.usecases.certify import write_whole

    files: list[tuple[Path, bytes]] = []
    if arguments.plot:
        from firstlift.usecases.draw import draw_analysis

        unit = analysed.job.valve.set_pressure.unit
        files.append((Path(arguments.plot), draw_analysis(analysed.analysis, pressure_unit=unit).encode()))
    if arguments.certificate:
        files.append((Path(arguments.certificate), _certificate(analysed, arguments)))
    elif arguments.certificates:
        from firstlift.usecases.certify import file_name

        files.append((Path(arguments.certificates) / file_name(analysed), _certificate(analysed, arguments)))
    for path, data in files:
        write_whole(path, data)
    if (arguments.certificate or arguments.certificates) and not (arguments.sign or arguments.unsigned):
        from firstlift.usecases.keys import WARNING

        print(f"firstlift: {files[-1][0]}: {WARNING}", file=sys.stderr)


def _certificate(analysed: Analysed, arguments: argparse.Namespace) -> bytes:
    from firstlift.certificate.settings import PLAIN
    from firstlift.usecases.certify import make_certificate, read_issuer

    settings = read_issuer(Path(arguments.issuer)) if arguments.issuer else PLAIN
    language, unit = arguments.language or settings.language, arguments.pressure_unit or settings.pressure_unit
    settings = dataclasses.replace(settings, language=language, pressure_unit=unit)
    made = make_certificate(analysed, settings=settings, draft=arguments.draft, attach_up_to=arguments.attach_up_to)
    if arguments.unsigned:
        return made.pdf
    from firstlift.certificate.sign import sign_certificate
    from firstlift.usecases.keys import signing_key

    named = Path(arguments.sign) if arguments.sign else None
    passphrase = Path(arguments.passphrase_file) if arguments.passphrase_file else None
    key = signing_key(named, passphrase, at=dt.datetime.now(dt.UTC))
    return sign_certificate(made.pdf, key, stamp_url=arguments.timestamp)


def _show(analysed: Analysed, arguments: argparse.Namespace, *, first: bool) -> None:
    if arguments.json:
        show(json.dumps(to_json(analysed.analysis.result), ensure_ascii=not prints_unicode(), allow_nan=False))
        return
    if not first:
        show("")
    show(summary(analysed, ascii_only=not prints_unicode()))
    for option, name in (("certificate", arguments.certificate), ("plot", arguments.plot)):
        if name:
            show(f"{option}: {name}")
