"""Picture files read for comparing: what cannot be read is named in a sentence that says what to do."""

from __future__ import annotations

import hashlib
import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from kb.desk.errors import DeskError

if TYPE_CHECKING:
    from PIL.Image import Image

    from kb.science.photo.given import Picture

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
    return Read(pixels, hashlib.sha256(raw).hexdigest())


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
    lies_right = opened.getexif().get(ORIENTATION, 1) == 1
    turned = opened if lies_right else ImageOps.exif_transpose(opened)
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
