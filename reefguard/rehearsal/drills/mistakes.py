"""Put a drill's mistakes into a settings file, as a keeper's hand would have."""

import yaml

# PyYAML's own classes of nodes: the text is composed and written again, every value as it stood.
from yaml.nodes import MappingNode, Node, ScalarNode


def with_mistakes(text: str, mistakes: tuple[tuple[str, str], ...]) -> str:
    """Return the file with each key set to what the mistake says; missing sections are added.

    Args:
        text: a settings file that reads without problems.
        mistakes: dotted keys and what stands there.

    Raises:
        ValueError: a key leads through something that has no keys, in words.
    """
    root = yaml.compose(text, Loader=yaml.BaseLoader)
    if not isinstance(root, MappingNode):
        message = "the settings file holds no keys"
        raise ValueError(message)  # noqa: TRY004  the file's content is wrong, not a caller's type
    for key, value in mistakes:
        *sections, last = key.split(".")
        table = root
        for section in sections:
            table = _table(table, section, key)
        _set(table, last, value)
    return str(yaml.serialize(root, Dumper=yaml.Dumper, allow_unicode=True))


def _table(table: MappingNode, name: str, key: str) -> MappingNode:
    for written, node in table.value:
        if written.value == name:
            if not isinstance(node, MappingNode):
                message = f"the drill's mistake `{key}`: `{name}` has no keys under it in these settings"
                raise ValueError(message)
            return node
    made = MappingNode(_MAP, [])
    table.value.append((_scalar(name), made))
    return made


def _set(table: MappingNode, name: str, value: str) -> None:
    kept: list[tuple[Node, Node]] = [(key, node) for key, node in table.value if key.value != name]
    table.value = [*kept, (_scalar(name), _scalar(value))]


_MAP = "tag:yaml.org,2002:map"


def _scalar(text: str) -> ScalarNode:
    return ScalarNode("tag:yaml.org,2002:str", text)
