"""Variations, sweeps and combinations to the list of cases that they make: a name and steps for each."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import chain, product
from math import prod

from optibuild.errors import Place
from optibuild.inputs.declared.problems import Collector, did_you_mean
from optibuild.inputs.varying.forms import BASE, Step, Written

MOST_VARIANTS = 10_000
"""A plan for each of so many would take a week, at a minute each."""
Block = tuple[tuple[str, int], tuple[Step, ...]]
"""The steps that one variation, or one value of a sweep, has of its own, and which of them it is."""


@dataclass(frozen=True)
class Planned:
    """A case to be made: its steps in order, and where what makes it is written."""

    name: str
    place: Place
    blocks: tuple[Block, ...]
    at: tuple[tuple[str, str], ...] = ()
    maker: str = ""

    @property
    def steps(self) -> Iterable[Step]:
        """Every step, in the order in which they are made."""
        return chain.from_iterable(steps for _, steps in self.blocks)


def listed(written: Sequence[Written], collector: Collector) -> list[Planned]:
    """Every case to be made, in the order of the file; what names something that is not there is noted."""
    known = {one.name: one for one in written}
    options: dict[str, tuple[Planned, ...]] = {BASE: (Planned(BASE, Place(), ()),)}
    options |= {one.name: _swept(one) for one in written if one.kind == "sweep"}
    for one in _in_turn([one for one in written if one.kind == "variation"], known, collector):
        options[one.name] = (_inherited(one, options),)
    axes = {one.name: _axes(one, options, known, collector) for one in written if one.kind == "combination"}
    count = sum(len(options.get(one.name, ())) for one in written)
    count += sum(prod(map(len, found)) for found in axes.values() if found)
    if count > MOST_VARIANTS:
        collector.add("variation.many", f"there are {count:,} variations", written[-1].place,
                      expected=f"at most {MOST_VARIANTS:,}")
        return []
    options |= {one.name: _combined(one, axes[one.name]) for one in written if one.name in axes}
    made = chain.from_iterable(options.get(one.name, ()) for one in written)
    return _named_once(made, collector)


def _swept(sweep: Written) -> tuple[Planned, ...]:
    """A case for each value of a sweep."""
    return tuple(Planned(f"{sweep.name} = {value}", sweep.place, (((sweep.name, index), (step,)),),
                         ((sweep.name, value),), sweep.name)
                 for index, (value, step) in enumerate(sweep.options))


def _in_turn(variations: Sequence[Written], known: Mapping[str, Written],
             collector: Collector) -> list[Written]:
    """Variations after those that they inherit from; a circle is noted and left out."""
    by_name = {one.name: one for one in variations}
    graph = {one.name: _parents(one, by_name, known, collector) for one in variations}
    while True:
        try:
            return [by_name[name] for name in TopologicalSorter(graph).static_order()]
        except CycleError as error:
            circle = error.args[1][::-1]
            places = [by_name[name].place for name in circle[:-1]]
            collector.add("variation.circle", " inherits from ".join(f"'{name}'" for name in circle), *places)
            graph |= dict.fromkeys(circle, ())


def _parents(one: Written, by_name: Mapping[str, Written], known: Mapping[str, Written],
             collector: Collector) -> tuple[str, ...]:
    for name in one.inherit:
        if name not in by_name and name != BASE:
            kind = f"a {known[name].kind}" if name in known else "no variation"
            collector.add("variation.unknown", f"'{one.name}' inherits from '{name}', which is {kind}",
                          one.place, value=name, hint=did_you_mean(name, by_name))
    return tuple(name for name in one.inherit if name in by_name)


def _inherited(one: Written, options: Mapping[str, tuple[Planned, ...]]) -> Planned:
    parents = [options[name][0] for name in one.inherit if name in options]
    blocks = _merged([*(planned.blocks for planned in parents), (((one.name, 0), one.steps),)])
    return Planned(one.name, one.place, blocks)


def _merged(of: Iterable[tuple[Block, ...]]) -> tuple[Block, ...]:
    """Blocks in order, each once: what two parents inherit from the same third is not done twice."""
    return tuple(dict(chain.from_iterable(of)).items())


def _axes(one: Written, options: Mapping[str, tuple[Planned, ...]], known: Mapping[str, Written],
          collector: Collector) -> list[tuple[Planned, ...]]:
    """The cases along each axis of a combination; none at all where a name is wrong."""
    wrong = [name for axis in one.axes for name in axis if name not in options]
    for name in dict.fromkeys(wrong):
        kind = "a combination itself" if name in known else "no sweep and no variation"
        collector.add("variation.unknown", f"'{one.name}' combines '{name}', which is {kind}", one.place,
                      value=name, hint=did_you_mean(name, options))
    return [] if wrong else [_axis(axis, options) for axis in one.axes]


def _axis(names: tuple[str, ...], options: Mapping[str, tuple[Planned, ...]]) -> tuple[Planned, ...]:
    """What one axis may be; where it has a choice of variations, their names are its values."""
    choices = tuple(chain.from_iterable(options[name] for name in names))
    if len(names) == 1:
        return choices
    title = " or ".join(names)
    return tuple(Planned(one.name, one.place, one.blocks, ((title, one.name),)) for one in choices)


def _combined(one: Written, axes: Sequence[tuple[Planned, ...]]) -> tuple[Planned, ...]:
    """One case for every choice of one value of each axis."""
    return tuple(Planned(f"{one.name}: {', '.join(part.name for part in parts)}", one.place,
                         _merged(part.blocks for part in parts),
                         tuple(chain.from_iterable(part.at for part in parts)), one.name)
                 for parts in (product(*axes) if axes else ()))


def _named_once(made: Iterable[Planned], collector: Collector) -> list[Planned]:
    """No two cases have the same name, as a sweep has that lists a value twice."""
    first: dict[str, Planned] = {}
    for planned in made:
        if planned.name in first:
            collector.add("variation.twice", f"two variations are called '{planned.name}'", planned.place,
                          first[planned.name].place, value=planned.name)
        first.setdefault(planned.name, planned)
    return list(first.values())
