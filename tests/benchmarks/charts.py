"""Which library draws the charts: python tests/benchmarks/charts.py [RUNS]

Every candidate draws the same chart: 50 loops as lying bars, their minutes in five parts, in a process of its
own; "ours" is `optibuild.report.charts`, which shows so many rows as one picture here. Prints Markdown: what
that costs, what the page gets, and whether two processes write the same bytes. Seconds are of the processor,
those of a browser that a library starts not counted.
Run it where the candidates are installed: pip install matplotlib altair vl-convert-python pygal plotly
kaleido leather. One that is missing, or cannot draw without something more, says so in its line.
"""

import re
import statistics
import subprocess
import sys
import time
from importlib.metadata import distribution, requires
from pathlib import Path
from typing import Any

from machine import machine

PARTS = ("plow", "deice", "drive", "reload", "other")
LOOPS = 50
RUNS = 5
NAMES = {"matplotlib": ("matplotlib",), "altair": ("altair", "vl-convert-python"), "pygal": ("pygal",),
         "plotly": ("plotly", "kaleido"), "leather": ("leather",),
         "ours": ("matplotlib",)}


def minutes() -> dict[str, list[float]]:
    """Invented minutes of every loop by part."""
    return {part: [float(10 + (7 * k + 11 * n) % 37) for n in range(LOOPS)] for k, part in enumerate(PARTS)}


def with_matplotlib(data: dict[str, list[float]]) -> str:
    """Without pyplot, text as text, ids from a salt."""
    from io import StringIO

    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "loops", "text.parse_math": False}):
        figure = Figure(figsize=(5.5, 20))
        axes, left = figure.add_axes((0.2, 0.05, 0.7, 0.9)), [0.0] * LOOPS
        for part, hatch in zip(data, ("", "//", "\\\\", "xx", ".."), strict=True):
            axes.barh(range(LOOPS), data[part], left=left, label=part, hatch=hatch, edgecolor="white")
            left = [a + b for a, b in zip(left, data[part], strict=True)]
        axes.set_yticks(range(LOOPS), [f"truck {n}" for n in range(LOOPS)])
        axes.legend()
        told = StringIO()
        FigureCanvasSVG(figure).print_svg(told, metadata={"Date": None})
    return told.getvalue()


def with_altair(data: dict[str, list[float]]) -> str:
    """Vega-Lite drawn by vl-convert, which runs its script here and writes none."""
    import altair
    import vl_convert

    rows = [{"truck": f"truck {n}", "part": part, "min": value}
            for part, values in data.items() for n, value in enumerate(values)]
    chart = altair.Chart(altair.Data(values=rows)).mark_bar().encode(x="min:Q", y="truck:N", color="part:N")
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))


def with_pygal(data: dict[str, list[float]]) -> str:
    """Its script left out."""
    import pygal

    chart = pygal.HorizontalStackedBar(js=[], height=1400, pretty_print=False, no_prefix=True)
    chart.x_labels = [f"truck {n}" for n in range(LOOPS)]
    for part, values in data.items():
        chart.add(part, values)
    return str(chart.render(is_unicode=True))


def with_plotly(data: dict[str, list[float]]) -> str:
    """As a still picture: kaleido drives a browser for it."""
    import plotly.graph_objects as go

    trucks = [f"truck {n}" for n in range(LOOPS)]
    bars = [go.Bar(x=values, y=trucks, name=part, orientation="h") for part, values in data.items()]
    return go.Figure(bars, {"barmode": "stack"}).to_image(format="svg").decode()


def with_leather(data: dict[str, list[float]]) -> str:
    """It stacks nothing: one bar a loop."""
    import leather

    chart = leather.Chart("loops")
    chart.add_bars([(sum(values), f"truck {n}") for n, values in enumerate(zip(*data.values(), strict=True))])
    return str(chart.to_svg(height=1400))


def with_ours(data: dict[str, list[float]]) -> str:
    """The library above behind a fragment for the page."""
    from optibuild.report.charts.lying_bars import Bars, Row, lying_bars, stacked
    from optibuild.report.tables import Table

    loops = zip(*data.values(), strict=True)
    rows = [Row(f"truck {n}", "", stacked(values)) for n, values in enumerate(loops)]
    return lying_bars("loops", "Loops", "", Table((), ()), Bars(PARTS, "minutes"), rows).svg


def draw(name: str) -> None:
    """One process: import, first chart and second chart; the picture on standard output."""
    data, begin = minutes(), time.process_time()
    for module in {"altair": ("altair", "vl_convert"), "matplotlib": (
            "matplotlib.backends.backend_svg", "matplotlib.figure"), "plotly": ("plotly.graph_objects",),
            "ours": ("matplotlib.backends.backend_svg", "matplotlib.figure")}.get(name, (name,)):
        __import__(module)
    loaded = time.process_time()
    picture = globals()[f"with_{name}"](data)
    first = time.process_time()
    globals()[f"with_{name}"](data)
    print(f"{loaded - begin} {first - loaded} {time.process_time() - first}", file=sys.stderr)
    sys.stdout.write(picture)


def installed_mb(names: tuple[str, ...]) -> float:
    """Everything that comes with these packages, numpy aside, which is there anyway [MB]."""
    seen: set[str] = set()
    waiting = list(names)
    while waiting:
        name = re.split(r"[^\w.-]", waiting.pop())[0].lower()
        if name and name not in seen and name != "numpy":
            try:
                wanted = requires(name) or []
            except ModuleNotFoundError:
                continue
            seen.add(name)
            waiting += [row for row in wanted if "extra ==" not in row]
    files: set[Path] = {Path(str(row.locate())) for name in seen for row in distribution(name).files or ()}
    return sum(path.stat().st_size for path in files if path.is_file()) / 1e6


def measured(name: str, runs: int) -> str:
    """One line of the table."""
    pictures, times = [], []
    for _ in range(runs):
        done = subprocess.run([sys.executable, __file__, "--draw", name], capture_output=True, text=True,
                              timeout=120)
        if done.returncode:
            why = (done.stderr.strip().splitlines() or ["?"])[-1]
            return f"| {name} | {why[:60]} |" + " |" * 9
        pictures.append(done.stdout)
        times.append([float(word) for word in done.stderr.split()[-3:]])
    text = pictures[0]
    loaded, first, again = (statistics.median(column) for column in zip(*times, strict=True))
    told: list[Any] = [
        name, f"{installed_mb(NAMES[name]):.0f}", f"{loaded:.2f}", f"{first:.2f}", f"{again:.2f}",
        f"{len(text.encode()) / 1000:.0f}", text.count("<script"), len(re.findall(r'\sstyle="', text)),
        text.count("<style"), text.count("<text"), "yes" if "<pattern" in text else "no",
        "yes" if len(set(pictures)) == 1 else "no"]
    return "| " + " | ".join(map(str, told)) + " |"


def main() -> None:
    """The table."""
    if sys.argv[1:2] == ["--draw"]:
        draw(sys.argv[2])
        return
    runs = int(sys.argv[1]) if sys.argv[1:] else RUNS
    print(f"{machine()}; medians of {runs}\n")
    print("| library | MB | import s | first chart s | next s | kB | scripts | style attributes"
          " | style sheets | texts | patterns | same bytes |\n|" + "---|" * 12)
    for name in NAMES:
        print(measured(name, runs), flush=True)


if __name__ == "__main__":
    main()
