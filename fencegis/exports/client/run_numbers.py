"""Runs by plain numbers, 1 first: where something is, told by them alone, since a client reads no chainages."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from fencegis.exports.words import each

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.records.plan import Plan

    Stretch = tuple[str, float, float]  # line_id, from_m, to_m

ALL = "the whole fence"
SLACK_M = 0.5  # of a run that may be left over: a matter of rounding


class _Run(NamedTuple):
    number: int
    line_id: str
    from_m: float
    to_m: float


class RunNumbers:
    """The plan's runs numbered in their order, to be found by line and chainage."""

    def __init__(self, plan: Plan) -> None:
        """Give each run its number."""
        runs = enumerate(each(plan.runs), start=1)
        self._runs = [_Run(number, str(run.line_id), float(run.from_m), float(run.to_m)) for number, run in runs]

    def at(self, line_id: str, chainage_m: float) -> int:
        """Return the number of the run that a station is on; at a corner the next run's; 0 of a line without any."""
        own = [run for run in self._runs if run.line_id == line_id]
        before = [run.number for run in own if run.from_m <= chainage_m + 1e-6]
        return before[-1] if before else own[0].number if own else 0

    def reached(self, stretches: Iterable[Stretch]) -> dict[int, float]:
        """Return the runs that stretches lie on, each with the metres of it that they cover."""
        found: dict[int, float] = {}
        by_line: dict[str, list[tuple[float, float]]] = {}
        for line_id, begin, end in stretches:
            by_line.setdefault(str(line_id), []).append((float(begin), float(end)))
        for run in self._runs:
            covered, reach = 0.0, run.from_m
            for begin, end in sorted(by_line.get(run.line_id, [])):
                first, last = max(begin, reach), min(end, run.to_m)
                if last > first:
                    covered, reach = covered + last - first, last
            if covered > SLACK_M or (covered and not found):
                found[run.number] = covered
        return found

    def words(self, stretches: Iterable[Stretch]) -> str:
        """Return where stretches are: the whole fence, all of some runs and parts of others."""
        found = self.reached(stretches)
        whole = [run.number for run in self._runs if found.get(run.number, 0.0) > run.to_m - run.from_m - SLACK_M]
        if len(whole) == len(self._runs):
            return ALL
        parts = [number for number in found if number not in whole]
        said = [f"all of {listed_runs(whole)}"] if whole else []
        said += [f"part of {listed_runs(parts)}"] if len(parts) == 1 else []
        said += [f"parts of {listed_runs(parts)}"] if len(parts) > 1 else []
        return " and ".join(said) or "nowhere on the fence"


def listed_runs(numbers: list[int]) -> str:
    """Return `run 3`, `runs 1 and 4`, `runs 1 to 3, 5 and 7`."""
    if not numbers:
        return "no run"
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    texts: list[str] = []
    for span in spans:
        texts += [f"{span[0]} to {span[-1]}"] if len(span) > 2 else [str(number) for number in span]
    last = f" and {texts[-1]}" if len(texts) > 1 else texts[-1]
    return f"run{'s' if len(numbers) > 1 else ''} {', '.join(texts[:-1])}{last}"
