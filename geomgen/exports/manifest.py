"""What an output folder holds: every file with its hash, so that it can be found whole."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

FILE = "manifest.json"
FORMAT = 1
_MAKER = "geomgen"


def manifest(name: str, files: Mapping[str, bytes]) -> bytes:
    """The manifest of a folder that holds ``files`` (path to content), itself left out."""
    document = {
        "made_by": _MAKER,
        "format": FORMAT,
        "name": name,
        "files": {
            path: {"bytes": len(content), "sha256": digest(content)}
            for path, content in sorted(files.items())
        },
    }
    return (json.dumps(document, indent=2, sort_keys=True) + "\n").encode("ascii")


def read(text: bytes) -> dict[str, str] | None:
    """Path and hash of every file that a manifest promises; None when it is none of ours."""
    try:
        document: Any = json.loads(text)
        if document["made_by"] != _MAKER or document["format"] != FORMAT:
            return None
        return {str(path): str(entry["sha256"]) for path, entry in document["files"].items()}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def digest(content: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(content).hexdigest()
