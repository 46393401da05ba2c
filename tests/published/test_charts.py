"""Control charts."""

from firstlift.core.seat.paired import control_chart

SOURCES = ("control-charts.toml",)


def test_published_value(check, agree):
    chart = control_chart(check["given"]["values"])
    agree(check, [chart.middle, chart.mean_range, chart.lower, chart.upper])
