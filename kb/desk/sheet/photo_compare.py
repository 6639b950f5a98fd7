"""Did the ink move? Two photographs of one patch compared, and what came of it written beside them.

Picture files read for comparing: what cannot be read is named in a sentence that says what to do.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec

from kb.book.line import hash_of
from kb.desk.errors import DeskError

if TYPE_CHECKING:
    from PIL.Image import Image

    from kb.science.photo.given import Comparison, Picture, Pictures

EXTRA = "Comparing photographs needs the extra for photographs: pip install 'benchleaf[photos]'."
ORIENTATION = 0x0112
MOST_PIXELS = 120_000_000
MOST_BYTES = 600_000_000
HEIC = (".heic", ".heif")


class Read(NamedTuple):
    """A picture with EXIF orientation applied and colours as sRGB, and the hash of its file."""

    pixels: Picture
    sha256: str


def read_picture(path: Path) -> Read:
    """Read a photograph. Raises DeskError for what is missing, damaged, too large or no picture."""
    try:
        from PIL import Image, UnidentifiedImageError
    except ImportError as error:
        raise DeskError(EXTRA) from error
    raw = _bytes_of(path)
    heic = path.suffix.lower() in HEIC or raw[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypheif")
    if heic and not learn_heic():
        raise DeskError(
            f"{path} is HEIC, which needs the extra for photographs: pip install 'benchleaf[photos]'; "
            "or save it as JPEG."
        )
    try:
        with warnings.catch_warnings():
            # Large scans are wanted; what is too large is refused below.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw)) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    million = opened.width * opened.height / 1e6
                    raise DeskError(
                        f"{path} has {million:.0f} megapixels, and at most {MOST_PIXELS / 1e6:.0f} are read; "
                        "cut out the part with the patch and try again."
                    )
                pixels = _pixels(opened)
    except UnidentifiedImageError as error:
        raise DeskError(f"{path} is not a picture that can be read; give a JPEG, PNG or TIFF.") from error
    except Image.DecompressionBombError as error:
        raise DeskError(
            f"{path} has more than {MOST_PIXELS / 1e6:.0f} megapixels; cut out the part with the patch."
        ) from error
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        # Decoders raise any of these on a damaged file.
        raise DeskError(
            f"{path} is damaged or cut short ({error}); copy it from the camera again."
        ) from error
    return Read(pixels, hash_of(raw))


def _bytes_of(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise DeskError(f"There is no photograph at {path}; check the name and that its disk is there.")
        if path.stat().st_size > MOST_BYTES:
            raise DeskError(
                f"{path} is larger than {MOST_BYTES // 1_000_000} MB; save it smaller, as JPEG or PNG."
            )
        raw = path.read_bytes()
    except OSError as error:
        raise DeskError(f"{path} cannot be read: {error.strerror}; see to the disk and try again.") from error
    if not raw:
        raise DeskError(f"{path} is empty; copy it from the camera again.")
    return raw


def learn_heic() -> bool:
    """Whether HEIC can be read, which needs the extra for photographs."""
    try:
        from pillow_heif import register_heif_opener
    except ImportError:
        return False
    register_heif_opener()
    return True


def _pixels(opened: Image) -> Picture:
    """8-bit sRGB the right way up; 16-bit grey is brought down by its own range of bits."""
    import numpy as np
    from PIL import ImageOps

    # A copy of a large picture that lies right already costs as much as reading it.
    turned = opened if opened.getexif().get(ORIENTATION, 1) == 1 else ImageOps.exif_transpose(opened)
    if turned.mode.startswith("I") or turned.mode == "F":
        wide = np.asarray(turned, np.float32)
        top = 65535.0 if float(wide.max(initial=0)) > 255 else 255.0
        grey = np.clip(wide / top * 255, 0, 255).astype(np.uint8)
        return np.repeat(grey[..., None], 3, axis=2)
    found = _as_srgb(turned)
    return np.asarray(found if found.mode == "RGB" else found.convert("RGB"))


def _as_srgb(picture: Image) -> Image:
    """By the profile in the file if it has one that can be read; else sRGB is assumed."""
    from PIL import ImageCms

    profile = picture.info.get("icc_profile")
    if not profile or picture.mode not in ("RGB", "CMYK"):
        return picture
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if "srgb" in ImageCms.getProfileDescription(source).lower():
            return picture
        return (
            ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
            or picture
        )
    except (ImageCms.PyCMSError, OSError, ValueError):
        return picture


Progress = Callable[[str, float], None]
SAID = {
    "no-change": "no change seen above noise",
    "possible-change": "possible change: look here",
    "cannot-tell": "cannot tell",
}
INFORMS = "The comparison informs; it never says that something is safe. Colour on a swab outranks it."
FINDINGS = {
    "near halo": "ink beside the strokes",
    "far halo": "ink some way from the strokes",
    "open paper": "colour on open paper",
    "ink amount": "more or less ink in the strokes",
    "ring": "a line on the paper",
    "stroke moved": "a stroke in another place",
}
LIGHTER, LESS_YELLOW = 0.8, 0.8
"""CIELAB units from which a change of the paper is put into words; this project's own."""


class Compared(NamedTuple):
    """A comparison with the files it was made from."""

    before: Path
    after: Path
    before_sha256: str
    after_sha256: str
    result: Comparison

    @property
    def pictures(self) -> Pictures | None:
        """What there is to look at; none where the pair could not be laid over each other."""
        return self.result.pictures


def compare_files(
    before: Path,
    after: Path,
    px_per_mm: float | None,
    swab: tuple[float, float, float] | None,
    *,
    unchanged: Path | None = None,
    progress: Progress = lambda _text, _share: None,
) -> Compared:
    """Compare two photographs; ``swab`` is centre and radius in pixels of the first.

    ``unchanged`` is a second photograph from before the work, after the camera was moved: what differs in
    it is the noise of this camera, light and hand. What ``progress`` raises ends the work. Raises DeskError
    without the extra, or for a file that cannot be read.
    """
    try:
        from kb.science.photo.compare import compare
        from kb.science.photo.given import Circle
    except ImportError as error:
        raise DeskError(EXTRA) from error
    _check(px_per_mm, swab)
    progress("reading", 0.0)
    first, second = read_picture(before), read_picture(after)
    circle = Circle(*swab) if swab is not None else None
    noise = None
    if unchanged is not None:
        pair = compare(first.pixels, read_picture(unchanged).pixels, px_per_mm, circle, step=progress)
        noise = pair.figures.scores
    result = compare(first.pixels, second.pixels, px_per_mm, circle, noise=noise, step=progress)
    return Compared(before, after, first.sha256, second.sha256, result)


def _check(px_per_mm: float | None, swab: tuple[float, float, float] | None) -> None:
    if px_per_mm is not None and not 0 < px_per_mm < 10_000:
        raise DeskError(f"{px_per_mm:g} px/mm is no scale; divide the pixels along 10 mm of a ruler by 10.")
    if swab is not None and not (all(abs(one) < 1e6 for one in swab) and swab[2] > 0):
        raise DeskError(
            "The swabbed area needs a centre and a radius above zero, in pixels of the before picture."
        )


def as_plain(compared: Compared) -> dict[str, Any]:
    """All of it for programs: verdict, places, figures, hashes, versions; what is no number is null."""
    from importlib.metadata import version

    result = compared.result
    figures = {name: _number(value) for name, value in result.figures._asdict().items()}
    return {
        "verdict": result.verdict,
        "reasons": list(result.reasons),
        "boxes": [box._asdict() for box in result.boxes],
        "smallest_mm": result.smallest_mm,
        "paper_change": result.paper_change._asdict() if result.paper_change else None,
        "said": SAID[result.verdict],
        "before": {"path": str(compared.before), "sha256": compared.before_sha256},
        "after": {"path": str(compared.after), "sha256": compared.after_sha256},
        **figures,
        "versions": {
            name: version(name) for name in ("benchleaf", "numpy", "opencv-python-headless", "pillow")
        },
    }


def _number(value: object) -> object:
    """A float that is not a number has no place in JSON."""
    if not isinstance(value, float):
        return value
    return float(value) if math.isfinite(value) else None


def lines_of(compared: Compared) -> tuple[str, ...]:
    """The answer in sentences, the verdict first."""
    result = compared.result
    lines = [f"{SAID[result.verdict]}{': ' if result.reasons else ''}{'; '.join(result.reasons)}."]
    if result.smallest_mm is not None:
        lines.append(f"A halo of {result.smallest_mm:g} mm or more would have been seen.")
    for box in result.boxes:
        scale = result.figures.px_per_mm or 1.0
        lines.append(
            f"{FINDINGS[box.kind]} ({box.kind}): x {box.x:.0f}, y {box.y:.0f}, {box.w / scale:.1f} x "
            f"{box.h / scale:.1f} mm; score {box.score:.1f}, threshold {box.threshold:.1f}"
        )
    if paper := paper_line(compared):
        lines.append(paper)
    return (*lines, *result.figures.notes, INFORMS)


def paper_line(compared: Compared) -> str:
    """What the paper did, which is no word on the ink; empty if next to nothing."""
    change = compared.result.paper_change
    if change is None:
        return ""
    words = []
    if abs(change.lightness) >= LIGHTER:
        words.append("lighter" if change.lightness > 0 else "darker")
    if abs(change.yellowness) >= LESS_YELLOW:
        words.append("less yellow" if change.yellowness < 0 else "more yellow")
    if not words:
        return ""
    return (
        f"The paper is {' and '.join(words)} in the swab (L* {change.lightness:+.1f}, "
        f"b* {change.yellowness:+.1f}; relative, as nothing calibrates it); lifted adhesive does this."
    )


def packed(compared: Compared) -> dict[str, bytes]:
    """What is kept of a comparison, by name of file: the report, the aligned pair, the map, the overlay."""
    from io import BytesIO

    from PIL import Image

    report = as_plain(compared)
    for which, path in (("before", compared.before), ("after", compared.after)):
        # The report may leave with the studio, and where it lay on this machine is nobody's business.
        report[which] = {**report[which], "path": path.name}
    files = {"report.json": msgspec.json.format(msgspec.json.encode(report), indent=1)}
    for name, pixels in (compared.pictures._asdict() if compared.pictures else {}).items():
        stream = BytesIO()
        Image.fromarray(pixels).save(stream, "PNG")
        files[f"{'aligned-' if name in {'before', 'after'} else ''}{name}.png"] = stream.getvalue()
    return files


def write_beside(compared: Compared, folder: Path) -> tuple[Path, ...]:
    """Write the aligned pair, the difference map, the overlay and the report; names that are taken stay.

    Raises DeskError if the folder is gone, the disk is full or a name is taken; then nothing of it is left.
    """
    stem = f"{compared.before.stem}-{compared.after.stem}"
    files = {f"{stem}-{name}": content for name, content in packed(compared).items()}
    done: list[Path] = []
    try:
        for name, content in files.items():
            path = folder / name
            with path.open("xb") as stream:
                done.append(path)
                stream.write(content)
    except OSError as error:
        for path in done:
            path.unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise DeskError(f"{error.filename} is there already; move it away and try again.") from error
        raise DeskError(f"Nothing was written in {folder}: {error.strerror}; see to it.") from error
    return tuple(done)
