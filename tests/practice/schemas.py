"""Hold a report to its schema."""

from collections.abc import Iterable, Mapping

from trainer.practice.report_schema import Field

KINDS: Mapping[str, tuple[type, ...]] = {
    "text": (str,), "number": (int, float), "whole": (int,), "truth": (bool,), "list": (list,),
    "object": (dict,), "null": (type(None),),
}  # fmt: skip


def paths_in(value: object, fields: Mapping[str, Field], path: str = "") -> dict[str, list[object]]:
    """Every value of a report by its path; names that are not fixed count as {}."""
    found: dict[str, list[object]] = {path: [value]} if path else {}
    inner: Iterable[tuple[str, object]] = ()
    if isinstance(value, dict):
        is_open = f"{path}{{}}" in fields
        inner = [
            (f"{path}{{}}" if is_open else f"{path}.{name}".removeprefix("."), each)
            for name, each in value.items()
        ]
    elif isinstance(value, list):
        inner = [(f"{path}[]", each) for each in value]
    for where, each in inner:
        for at, values in paths_in(each, fields, where).items():
            found.setdefault(at, []).extend(values)
    return found


def fits(field: Field, value: object) -> bool:
    """Whether a value is one of the kinds that its field can be; a truth is no number."""
    kinds = [kind for word in field.kinds.split() for kind in KINDS[word]]
    return type(value) in kinds


def hold(report: object, fields: Iterable[Field], *, is_full: bool) -> None:
    """Fail where a field is not in the schema, is of another kind, or, of a full report, is never there."""
    by_path = {field.path: field for field in fields}
    found = paths_in(report, by_path)
    assert set(found) <= set(by_path)
    for path, values in found.items():
        assert all(fits(by_path[path], value) for value in values), path
    if is_full:
        assert set(by_path) - set(found) == set()
