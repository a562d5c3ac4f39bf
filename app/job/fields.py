"""One object of a job file while it is read: every fault names the object, the field and the way out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from app.errors import JobFileError
from app.job.document import DisplayUnits
from app.job.names import unknown
from app.job.quantities import Quantity, parse_quantity
from app.stock.money import parse_price
from app.stock.weights import parse_density

Json = None | bool | int | Decimal | str | list["Json"] | dict[str, "Json"]
"""A JSON value as read: numbers with a point stay exact."""

T = TypeVar("T")
Choice = TypeVar("Choice", bound=StrEnum)


class Fields:
    """A JSON object with checks on the way out.

    Parameters
    ----------
    value : Json
        Anything; refused unless it is an object.
    where : str
        How the object is called in messages: "stock 'alu-48x120'"; empty for the file as a whole.
    known : iterable of str
        All keys the object may have.
    """

    def __init__(self, value: Json, where: str, known: Iterable[str]) -> None:
        if not isinstance(value, dict):
            raise JobFileError(_placed(where, f"{_shown(value)} stands where an object {{...}} is needed"))
        self._values = value
        self.where = where
        known = list(known)
        for key in value:
            if key not in known:
                raise JobFileError(_placed(where, unknown(key, known, what="a known key")))

    def fault(self, key: str, why: str) -> JobFileError:
        """The error to raise about one field."""
        return JobFileError(f"{self.where}, {key}: {why}" if self.where else f"{key}: {why}")

    def has(self, key: str) -> bool:
        """Whether the key is there and not null."""
        return self._values.get(key) is not None

    def raw(self, key: str) -> Json:
        """The value as it stands; refused when it is missing."""
        if key not in self._values:
            raise JobFileError(_placed(self.where, f"'{key}' is missing"))
        return self._values[key]

    def optional(self, key: str, read: Callable[[str], T], default: T) -> T:
        """What `read` makes of the key, or the default when it is missing or null."""
        return read(key) if self.has(key) else default

    def text(self, key: str) -> str:
        """Text."""
        value = self.raw(key)
        if not isinstance(value, str):
            raise self.fault(key, f"{_shown(value)} stands where text in quotes is needed")
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.raw(key)
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self.fault(key, f"{_shown(value)} stands where a list of texts is needed")
        return tuple(one for one in value if isinstance(one, str))

    def entries(self, key: str) -> list[Json]:
        """A list of anything."""
        value = self.raw(key)
        if not isinstance(value, list):
            raise self.fault(key, f"{_shown(value)} stands where a list [...] is needed")
        return value

    def mapping(self, key: str) -> Mapping[str, Json]:
        """An object whose keys are not fixed."""
        value = self.raw(key)
        if not isinstance(value, dict):
            raise self.fault(key, f"{_shown(value)} stands where an object {{...}} is needed")
        return value

    def yes_no(self, key: str) -> bool:
        """True or false."""
        value = self.raw(key)
        if not isinstance(value, bool):
            raise self.fault(key, f"{_shown(value)} stands where true or false is needed")
        return value

    def whole(self, key: str) -> int:
        """A whole number."""
        value = self.raw(key)
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.fault(key, f"{_shown(value)} stands where a whole number is needed")
        return value

    def number(self, key: str) -> float:
        """A plain number."""
        return as_number(self.raw(key), lambda why: self.fault(key, why))

    def choice(self, key: str, choices: type[Choice]) -> Choice:
        """One of an enumeration's values."""
        text = self.text(key)
        try:
            return choices(text)
        except ValueError:
            raise self.fault(key, unknown(text, [one.value for one in choices], what="a choice")) from None

    def length(self, key: str) -> float:
        """A length with its unit, mm."""
        return as_quantity(self.raw(key), Quantity.LENGTH, lambda why: self.fault(key, why))

    def density(self, key: str) -> float:
        """A density with its unit, kg/m³."""
        value = self.raw(key)
        try:
            return parse_density(value if isinstance(value, str) else _shown(value))
        except ValueError as error:
            raise self.fault(key, str(error)) from None

    def price(self, key: str, currency: str) -> int:
        """An amount in major units, as minor units."""
        value = self.raw(key)
        if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
            raise self.fault(key, f'{_shown(value)} stands where a price is needed; write it like "187.50"')
        try:
            return parse_price(value, currency)
        except ValueError as error:
            raise self.fault(key, str(error)) from None


def as_quantity(value: Json, quantity: Quantity, fault: Callable[[str], JobFileError]) -> float:
    """Value of a field that needs a unit, in the quantity's own unit; `fault` makes the error from the reason."""
    if quantity is Quantity.NUMBER:
        return as_number(value, fault)
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        unit = {Quantity.LENGTH: "in", Quantity.AREA: "in2", Quantity.TEMPERATURE: "F", Quantity.EXPANSION: "/F"}
        raise fault(f'{value} has no unit; write "{value} {unit[quantity]}"')
    if not isinstance(value, str):
        raise fault(f"{_shown(value)} stands where text with a unit is needed")
    try:
        return parse_quantity(value, quantity)
    except ValueError as error:
        raise fault(str(error)) from None


def as_number(value: Json, fault: Callable[[str], JobFileError]) -> float:
    """Value of a field that is a plain number; `fault` makes the error from the reason."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise fault(f"{_shown(value)} stands where a number is needed")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise fault(f"{_shown(value)} is too large a number")
    return number


def units_of(fields: Fields, key: str) -> DisplayUnits:
    """Display units of the whole job; inches when not given."""
    return fields.choice(key, DisplayUnits) if fields.has(key) else DisplayUnits.INCHES


def _shown(value: Json) -> str:
    """A JSON value in a few words, for messages."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "an object"
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _placed(where: str, why: str) -> str:
    return f"{where}: {why}" if where else why
