"""One table of a TOML file, taken apart key by key; what is wrong or left over is collected."""

import difflib
from collections.abc import Mapping
from datetime import date, datetime
from typing import TypeGuard

from siting.errors import Fault


class TomlTable:
    """A table whose keys are asked for one by one; `close` reports the keys nobody asked for."""

    def __init__(self, values: object, *, path: str, file: str, faults: list[Fault]):
        self.path = path
        self._file = file
        self._faults = faults
        self._asked: list[str] = []
        self.values: Mapping[str, object] = {}
        if isinstance(values, Mapping):
            self.values = values
        elif values is not None:
            self.blame(path, values, needed="a table of keys and values")

    def blame(self, key: str, value: object, *, needed: str, do_next: str = "correct the value") -> None:
        """Add a fault about a key."""
        self._faults.append(
            Fault(
                found=f"{key} = {str(value)[:80]!r}" if isinstance(value, str) else f"{key} = {str(value)[:80]}",
                needed=needed,
                do_next=do_next,
                file=self._file,
            )
        )

    def named(self, key: str) -> str:
        """The key with the path of its table."""
        return f"{self.path}.{key}" if self.path else key

    def raw(self, key: str) -> object:
        """The value as it stands, or None."""
        self._asked.append(key)
        return self.values.get(key)

    def text(self, key: str) -> str | None:
        """Text that is not blank."""
        value = self.raw(key)
        if value is None or (isinstance(value, str) and value.strip()):
            return value
        self.blame(self.named(key), value, needed="text in quotation marks")
        return None

    def number(
        self,
        key: str,
        *,
        above: float | None = None,
        at_least: float | None = None,
        below: float | None = None,
        at_most: float | None = None,
    ) -> float | None:
        """A finite number within limits."""
        value = self.raw(key)
        if value is None:
            return None
        limits = {"above": above, "at least": at_least, "below": below, "at most": at_most}
        if is_number(value) and (
            (above is None or value > above)
            and (at_least is None or value >= at_least)
            and (below is None or value < below)
            and (at_most is None or value <= at_most)
        ):
            return float(value)
        said = " and ".join(f"{word} {limit:g}" for word, limit in limits.items() if limit is not None)
        self.blame(self.named(key), value, needed=f"a number {said}".strip())
        return None

    def sizes(self, key: str) -> tuple[float, float] | None:
        """Two numbers above zero: length and width."""
        value = self.raw(key)
        if value is None:
            return None
        if isinstance(value, list) and len(value) == 2 and all(is_number(v) and v > 0 for v in value):
            return float(value[0]), float(value[1])
        self.blame(self.named(key), value, needed="[length, width] in metres, both above 0")
        return None

    def pair(self, key: str, *, needed: str) -> tuple[float, float] | None:
        """Two finite numbers that have to be there."""
        value = self.raw(key)
        if isinstance(value, list) and len(value) == 2 and all(is_number(v) for v in value):
            return float(value[0]), float(value[1])
        self.blame(self.named(key), "" if value is None else value, needed=needed)
        return None

    def flag(self, key: str) -> bool:
        """True or false; false when missing."""
        value = self.raw(key)
        if value is not None and not isinstance(value, bool):
            self.blame(self.named(key), value, needed="true or false")
        return value is True

    def day(self, key: str) -> date | None:
        """A date without quotation marks."""
        value = self.raw(key)
        if isinstance(value, datetime):
            return value.date()
        if value is None or isinstance(value, date):
            return value
        self.blame(self.named(key), value, needed="a date such as 2026-05-14, without quotation marks")
        return None

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty when missing."""
        value = self.raw(key)
        if value is None:
            return ()
        if isinstance(value, list) and all(isinstance(each, str) and each.strip() for each in value):
            return tuple(value)
        self.blame(self.named(key), value, needed='a list of texts, such as ["one", "two"]')
        return ()

    def table(self, key: str) -> "TomlTable":
        """A table within this one; empty when missing."""
        return TomlTable(self.raw(key), path=self.named(key), file=self._file, faults=self._faults)

    def tables(self, key: str) -> tuple["TomlTable", ...]:
        """A list of tables; empty when missing."""
        value = self.raw(key)
        if value is None:
            return ()
        if not isinstance(value, list):
            self.blame(self.named(key), value, needed=f"[[{key}]] with two brackets on each side")
            return ()
        return tuple(
            TomlTable(each, path=f"{key} {n}", file=self._file, faults=self._faults)
            for n, each in enumerate(value, start=1)
        )

    def free(self, key: str) -> dict[str, object]:
        """A table of numbers, texts and flags for rules to ask for."""
        inner = self.table(key)
        for name, value in inner.values.items():
            if not (is_number(value) or isinstance(value, bool | str)):
                inner.blame(inner.named(name), value, needed="a number, a text, or true or false")
        return {name: float(v) if is_number(v) else v for name, v in inner.values.items()}

    def close(self) -> None:
        """Report every key that nobody asked for, with the nearest one that is known."""
        for key in self.values:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, n=1)
                self.blame(
                    self.named(key),
                    self.values[key],
                    needed=f"one of the keys {', '.join(dict.fromkeys(self._asked))}",
                    do_next=f"write {near[0]!r} if that is what is meant" if near else "remove the key",
                )


def is_number(value: object) -> TypeGuard[int | float]:
    """Whether a TOML value is a finite number (true and false are none)."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e15
