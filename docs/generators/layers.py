"""The drawing of the layers, from the contract that the import linter holds."""

import inspect
import tomllib
from importlib import import_module
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape

_CONTRACT: Final = Path(__file__).parents[2] / "pyproject.toml"
_WIDTH: Final = 720
_ROW: Final = 62
_BOX: Final = 44
_MARGIN: Final = 12
_GAP: Final = 12
_HEAD: Final = 30


def drawing() -> str:
    """Return the drawing as SVG: one row a layer, the packages of a layer side by side."""
    layers = _layers()
    height = _HEAD + len(layers) * _ROW + _MARGIN
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img" '
        'font-family="sans-serif" font-size="12">',
        "<title>The layers of Doorwright: a package imports only from the rows below its own</title>",
        f'<rect width="{_WIDTH}" height="{height}" fill="#ffffff"/>',
        f'<text x="{_MARGIN}" y="20" fill="#333333">A package imports only from the rows below its own.</text>',
    ]
    for row, names in enumerate(layers):
        width = (_WIDTH - 2 * _MARGIN - (len(names) - 1) * _GAP) / len(names)
        for place, name in enumerate(names):
            lines += _box(name, _MARGIN + place * (width + _GAP), _HEAD + row * _ROW, width)
    return "\n".join([*lines, "</svg>", ""])


def _box(name: str, x: float, y: float, width: float) -> list[str]:
    middle = x + width / 2
    text = f'<text x="{middle:g}" text-anchor="middle"'
    return [
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{_BOX}" rx="3" fill="#f2f5f7" stroke="#4a6272"/>',
        f'{text} y="{y + 18:g}" font-weight="bold" fill="#111111">{name}</text>',
        f'{text} y="{y + 35:g}" fill="#333333">{escape(_purpose(name, width))}</text>',
    ]


def _purpose(name: str, width: float) -> str:
    """Return what a package is for: its docstring's first words, as many as there is room for."""
    text = (inspect.getdoc(import_module(f"doorwright.{name}")) or "").splitlines()[0].replace("``", "")
    sentence = text.split(". ")[0].rstrip(".")
    room = int(width / 6.2)
    while len(sentence) > room:
        cut = max(sentence.rfind(mark, 0, len(sentence) - 1) for mark in (": ", ", ", "; ", " "))
        sentence = sentence[:cut].rstrip(",;: ")
    return sentence


def _layers() -> list[list[str]]:
    contracts = tomllib.loads(_CONTRACT.read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
    layers = next(contract["layers"] for contract in contracts if contract["type"] == "layers")
    return [[name.strip() for name in layer.split("|")] for layer in layers]
