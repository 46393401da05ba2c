"""An area from paired bench and on-line results."""

from dataclasses import replace

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.bench import fit_bench


def instruments(known, **changed):
    return (*known.cells, known.gauge, replace(known.bench, **changed))


def codes(*arguments):
    with pytest.raises(FirstliftError) as caught:
        fit_bench(*arguments)
    return [problem.code for problem in caught.value.problems]


def test_pairs_without_error_give_the_area_back(known):
    fit = fit_bench(known.pairs(), instruments(known))
    assert fit.area_m2 == pytest.approx(known.area)
    assert fit.set_pressure_pa is None
    assert fit.expanded_set_pressure_pa() is None


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("shared_gauge", [False, True])
def test_the_uncertainty_is_that_of_a_second_library(known, count, shared_gauge):
    gtc = pytest.importorskip("GTC")
    pairs = known.pairs()[:count]
    bench = {"tag": known.gauge.tag} if shared_gauge else {}
    items = instruments(known, **bench)
    error = {(item.tag, part): gtc.ureal(0.0, 1.0) for item in items for part in ("scale", "offset")}

    def read(item, value, share=1.0):
        scale = item.relative_standard_uncertainty * share * value * error[item.tag, "scale"]
        return scale + item.standard_uncertainty * error[item.tag, "offset"]

    x, y = [], []
    for pair in pairs:
        bench_pa = gtc.ureal(pair.bench_pressure_pa, pair.u_bench_pa) + read(items[3], pair.bench_pressure_pa)
        line_pa = gtc.ureal(pair.line_pressure_pa, pair.u_line_pa) + read(known.gauge, pair.line_pressure_pa)
        pull = gtc.ureal(pair.pull_n, pair.u_pull_n)
        for cell in known.cells:
            pull += read(cell, pair.pull_n, cell.load_share)
        x.append(bench_pa - line_pa)
        y.append(pull)
    own = [
        1.0 / (p.u_pull_n**2 + known.area**2 * (p.u_line_pa**2 + p.u_bench_pa**2)) for p in pairs
    ]  # the weights of the fit
    area = sum(w * b * a for w, a, b in zip(own, x, y, strict=True)) / sum(
        w * a * a for w, a in zip(own, x, strict=True)
    )
    fit = fit_bench(pairs, items)
    assert fit.area_m2 == pytest.approx(area.x, rel=1e-9)
    assert fit.u_area_m2 == pytest.approx(area.u, rel=1e-6)


def test_one_gauge_in_both_places_errs_less(known):
    apart = fit_bench(known.pairs(), instruments(known))
    alike = {"tag": known.gauge.tag, "relative_standard_uncertainty": 0.002, "standard_uncertainty": 500.0}
    one = fit_bench(known.pairs(), instruments(known, **alike))
    offset = {(part.source, part.part): part.area_m2 for part in one.contributions}["gauge:G1", "offset"]
    assert offset == pytest.approx(0.0, abs=1e-12)
    assert one.u_area_m2 < apart.u_area_m2


def test_the_area_is_tied_to_the_rig_and_not_to_the_bench(known):
    fit = fit_bench(known.pairs(), instruments(known))
    assert {tie.serials for tie in fit.ties} == {("C1",), ("C2",), ("G1",)}
    assert {tie.part for tie in fit.ties if tie.instrument == "gauge:G1"} == {"scale", "offset"}


def test_pairs_that_say_little_are_refused(known):
    assert codes(known.pairs((9.9e5,), (1e6,)), instruments(known)) == ["SEA-007"]


def test_pairs_that_cannot_be(known):
    assert codes(known.pairs((1.1e6,), (1e6,)), instruments(known)) == ["SEA-002"]
    assert codes(known.pairs(), (*known.cells, known.gauge)) == ["SEA-003"]
    assert codes((), instruments(known)) == ["SEA-005"]
