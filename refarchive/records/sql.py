"""The few things the tables are asked that each database says in its own words; all else is SQLAlchemy's."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement


class _Texts(sa.types.TypeDecorator[Any]):
    """Any number of texts as one bound value, beyond the limits on how many values may be bound."""

    impl = sa.Text
    cache_ok = True

    def load_dialect_impl(self, dialect: sa.Dialect) -> Any:
        kind = sa.Text() if dialect.name == "sqlite" else sa.ARRAY(sa.Text())
        return dialect.type_descriptor(kind)

    def process_bind_param(self, value: Any, dialect: sa.Dialect) -> Any:
        return json.dumps(list(value)) if dialect.name == "sqlite" else list(value)


class _Each(FunctionElement[Any]):
    """A row for each of the texts bound."""

    name = "each"
    inherit_cache = True


class _Elements(FunctionElement[Any]):
    """A row for each text in an array that a JSON column holds under a key."""

    name = "elements"
    inherit_cache = True


class _Holds(FunctionElement[bool]):
    """Whether the first text holds the second, letter by letter."""

    name = "holds"
    type = sa.Boolean()
    inherit_cache = True


def texts(values: Collection[str]) -> sa.BindParameter[Any]:
    """Texts as one bound value."""
    return sa.bindparam(None, list(values), type_=_Texts())


def listed(values: Collection[str]) -> Any:
    """Any number of values for an IN."""
    return sa.select(_Each(texts(values)).table_valued("value", name="value").c.value)


def listed_later(name: str) -> Any:
    """As `listed`, with values that are given by name when the statement is executed."""
    values = sa.bindparam(name, type_=_Texts())
    return sa.select(_Each(values).table_valued("value", name="value").c.value)


def elements(column: sa.Column[Any], key: str) -> Any:
    """The texts that a JSON column holds under a key, as a table with the column `value`."""
    return _Elements(column, sa.literal(key)).table_valued("value", name="value")


def holds(text: Any, part: Any) -> sa.ColumnElement[bool]:
    """Whether a text holds a part, letter by letter."""
    return _Holds(text, part)


@compiles(_Each, "sqlite")
def _each_in_sqlite(element: _Each, compiler: Any, **options: Any) -> str:
    return f"json_each({compiler.process(element.clauses, **options)})"


@compiles(_Elements, "sqlite")
def _elements_in_sqlite(element: _Elements, compiler: Any, **options: Any) -> str:
    column, key = (compiler.process(one, **options) for one in element.clauses)
    return f"json_each({column}, '$.' || {key})"


@compiles(_Holds, "sqlite")
def _holds_in_sqlite(element: _Holds, compiler: Any, **options: Any) -> str:
    text, part = (compiler.process(one, **options) for one in element.clauses)
    return f"(instr({text}, {part}) > 0)"


@compiles(_Each, "postgresql")
def _each_in_postgresql(element: _Each, compiler: Any, **options: Any) -> str:
    return f"unnest({compiler.process(element.clauses, **options)})"


@compiles(_Elements, "postgresql")
def _elements_in_postgresql(element: _Elements, compiler: Any, **options: Any) -> str:
    column, key = (compiler.process(one, **options) for one in element.clauses)
    return f"json_array_elements_text({column} -> {key})"


@compiles(_Holds, "postgresql")
def _holds_in_postgresql(element: _Holds, compiler: Any, **options: Any) -> str:
    text, part = (compiler.process(one, **options) for one in element.clauses)
    return f"(strpos({text}, {part}) > 0)"
