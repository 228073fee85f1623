"""Settings sheets: what one set, base or rover, is set to. One set a file (TOML, or CSV with a row a
setting), or a fleet in one CSV with a row a set; every fault of every file at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from linkplan.errors import Fault, SheetError
from linkplan.plan.sheet_fields import Role
from linkplan.plan.sheet_values import Stated

SUFFIXES = (".toml", ".csv")
MOST_FAULTS = 20
"""Faults listed of one file; the rest are counted."""


@dataclass(frozen=True)
class Sheet:
    """The settings of one set."""

    role: Role
    set_name: str
    file: str
    values: Mapping[str, Stated]
    """By the name of the field; what is not stated is not there."""
    remarks: tuple[str, ...] = ()
    """What looks odd on the sheet but is no fault, one line each."""
    code: str = ""
    """The check code that stands on the sheet, as written, or ""."""
    channel: str = ""
    """The channel that it names, or "": never compared by itself."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", MappingProxyType(dict(self.values)))


@dataclass
class FileReport:
    """Faults of one file."""

    file: str
    faults: list[Fault] = field(default_factory=list)

    def add(self, key: str, value: str, problem: str, cure: str = "") -> None:
        """Note one fault; `value` must hold no secret."""
        self.faults.append(Fault(key, value, problem, cure))

    def listed(self) -> list[tuple[str, Fault]]:
        """At most MOST_FAULTS, and a count of the others."""
        listed = [(self.file, fault) for fault in self.faults[:MOST_FAULTS]]
        more = len(self.faults) - MOST_FAULTS
        if more > 0:
            listed.append((self.file, Fault("", "", f"and {more} more faults in this file", "")))
        return listed


def read_sheets(base: str | Path, rovers: Sequence[str | Path]) -> tuple[Sheet, tuple[Sheet, ...]]:
    """The base's sheet and those of the rovers; a folder stands for every sheet in it.

    The base's own file is left out where a folder of rovers holds it. Raises SheetError with all faults of
    all files.
    """
    from linkplan.plan.sheet_files import read_sheet_file

    base = Path(base)
    faults: list[tuple[str, Fault]] = []
    reports: list[FileReport] = []
    bases = read_sheet_file(base, "base", reports)
    sheets: list[Sheet] = []
    for path in _files([Path(rover) for rover in rovers], base, faults):
        sheets += read_sheet_file(path, "rover", reports)
    if len(bases) > 1:
        names = ", ".join(sheet.set_name for sheet in bases[:5])
        fault = Fault("", "", f"holds {len(bases)} sets ({names})", "give one sheet for the one base")
        faults.append((str(base), fault))
    _note_twins([*bases[:1], *sheets], faults)
    found = [pair for report in reports for pair in report.listed()] + faults
    if found:
        raise SheetError(tuple(found))
    return bases[0], tuple(sheets)


def _files(paths: Iterable[Path], base: Path, faults: list[tuple[str, Fault]]) -> list[Path]:
    """Files named, and those in folders named, each once."""
    found: dict[Path, Path] = {}
    for path in paths:
        entries = [path]
        try:
            if path.is_dir():
                entries = sorted(
                    entry
                    for entry in path.iterdir()
                    if entry.suffix.lower() in SUFFIXES
                    and entry.is_file()
                    and not entry.name.startswith(".")
                    and not _same(entry, base)
                )
                if not entries:
                    fault = Fault("", "", "no rover's sheet (.toml or .csv) in this folder", "name another")
                    faults.append((str(path), fault))
            for entry in entries:
                found.setdefault(entry.resolve(), entry)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "not a possible name"
            faults.append((str(path), Fault("", "", f"cannot be read ({reason})", "")))
    return list(found.values())


def _same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()


def _note_twins(sheets: Sequence[Sheet], faults: list[tuple[str, Fault]]) -> None:
    first: dict[str, str] = {}
    for sheet in sheets:
        name = sheet.set_name.casefold()
        if name in first:
            problem = f'the name "{sheet.set_name}" is taken by a sheet in {first[name]}'
            faults.append((sheet.file, Fault("set", "", problem, "give every set a name of its own")))
        first.setdefault(name, sheet.file)
