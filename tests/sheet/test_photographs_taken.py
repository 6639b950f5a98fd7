"""Photographs of a sheet: taken in, listed, paired, compared from the studio."""

from __future__ import annotations

import io
import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import verify
from kb.desk.sheet import pictures_taken
from kb.desk.sheet.photo_compare import read_picture
from kb.desk.sheet.pictures_paired import compare_pair, pair_by_area, pairs
from kb.desk.sheet.pictures_taken import add, add_named, taken, watched
from kb.desk.studio import Studio
from tests.sheet.photo_pairs import pair as made_pair

SHEET = "Map of an invented island"
NEW = ("--new-sheet", "--sheet", SHEET)


def jpeg(path: Path, pixels: np.ndarray, exif: Image.Exif | None = None) -> Path:
    """A photograph in a file."""
    path.parent.mkdir(exist_ok=True, parents=True)
    Image.fromarray(pixels).save(path, "JPEG", quality=96, **({"exif": exif} if exif else {}))
    return path


def grain(seed: int) -> np.ndarray:
    """A small picture that is like no other."""
    return np.random.default_rng(seed).integers(60, 250, (24, 32, 3), np.uint8)


def command(studio: Studio, *words: str) -> int:
    """benchleaf photo ..., on this studio."""
    return main(["--studio", str(studio.root), "photo", *words])


def shot(studio: Studio, path: Path, **more: object) -> str:
    """One photograph taken in; its id."""
    return add(studio, path, {"sheet": SHEET, "new_sheet": True, **more}).id


def test_a_photograph_is_copied_hashed_and_listed(
    studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By command: the original is not touched, the record says what it shows and how it was taken."""
    path = jpeg(tmp_path / "card" / "a.jpg", grain(1))
    before = path.read_bytes(), path.stat().st_mtime_ns
    words = (
        "add",
        str(path),
        "--new-sheet",
        "--sheet",
        SHEET,
        "--patch",
        "F3",
        "--face",
        "front",
        "--tag",
        "before",
    )
    assert command(studio, *words, "--tag", "raking", "--px-per-mm", "20", "--swab", "10,12,4") == 0
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    path.unlink()
    (found,) = taken(studio, SHEET)
    assert (found.area, found.when, found.light, found.face) == ("F3", "before", "raking", "front")
    assert (found.px_per_mm, found.swab) == (20, "10,12,4")
    assert Path(found.file).read_bytes() == before[0]
    capsys.readouterr()
    assert command(studio, "list", "island", "--json") == 0
    assert json.loads(capsys.readouterr().out)["photographs"][0]["sha256"] == found.sha256
    assert verify(studio) == []


def test_the_right_way_up(tmp_path: Path) -> None:
    """EXIF orientation is applied when a picture is read."""
    turned = Image.Exif()
    turned[0x0112] = 6
    path = jpeg(tmp_path / "a.jpg", grain(2), turned)
    assert read_picture(path).pixels.shape == (32, 24, 3)


def test_a_folder_is_taken_in_once_and_what_is_no_picture_is_named(
    studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second time only what is new; the refused one does not keep the others out."""
    card = tmp_path / "card"
    for number in range(3):
        jpeg(card / f"{number}.jpg", grain(number))
    (card / "words.jpg").write_text("no picture at all")
    (card / "notes.txt").write_text("not looked at")
    assert command(studio, "add", str(card), *NEW, "--tag", "before") == 1
    assert "words.jpg is not a picture" in capsys.readouterr().out.replace("\n", " ")
    assert len(taken(studio, SHEET)) == 3
    jpeg(card / "3.jpg", grain(3))
    command(studio, "add", str(card), *NEW, "--tag", "before")
    assert len(taken(studio, SHEET)) == 4


@pytest.mark.parametrize("by", ["command", "screen"])
def test_of_a_folder_two_alike_are_one_and_what_cannot_be_read_is_named(
    studio: Studio,
    tmp_path: Path,
    by: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A copy beside its picture is not taken in again; a bad spot of the card does not keep the rest out."""
    card = tmp_path / "card"
    for name, seed in {"a": 1, "b": 2, "b copy": 2, "c": 3}.items():
        jpeg(card / f"{name}.jpg", grain(seed))
    opened = os.open

    def spoilt(path: object, *more: int) -> int:
        if str(path).endswith("a.jpg"):
            raise OSError(5, "Input/output error")
        return opened(path, *more)  # type: ignore[call-overload]

    monkeypatch.setattr(os, "open", spoilt)
    if by == "command":
        assert command(studio, "add", str(card), *NEW) == 1
        told = " ".join(capsys.readouterr().out.split())
    else:
        with pytest.raises(DeskError) as refused:
            add_named(studio, {"file": str(card), "sheet": SHEET, "new_sheet": True})
        told = str(refused.value)
    assert "a.jpg cannot be opened (Input/output error)" in told
    assert len(taken(studio)) == 2


def test_names_of_files_that_begin_like_a_home_or_are_no_text(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file may be called ~photo.jpg, which is nobody's folder; a name that is no text is refused."""
    monkeypatch.chdir(tmp_path)
    jpeg(tmp_path / "~photo.jpg", grain(1))
    assert shot(studio, Path("~photo.jpg"))
    assert add_named(studio, {"file": "~photo.jpg", "sheet": SHEET})
    with pytest.raises(DeskError, match=r"~nobody-here/a\.jpg cannot be read"):
        add_named(studio, {"file": "~nobody-here/a.jpg", "sheet": SHEET})
    raw = os.path.join(os.fsencode(tmp_path), b"caf\xe9.jpg")
    os.link(tmp_path / "~photo.jpg", raw)
    with pytest.raises(DeskError, match="the name is not in UTF-8"):
        shot(studio, Path(os.fsdecode(raw)))


def test_a_folder_says_how_far_it_is_and_stopped_between_two_all_is_whole(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl+C before the second picture: those before are records, the book is whole, again goes on."""
    card = tmp_path / "card"
    for number in range(4):
        jpeg(card / f"{number}.jpg", grain(number))
    said: list[str] = []

    def stop(text: str) -> None:
        said.append(text)
        if text.endswith("(2 of 4)"):
            raise KeyboardInterrupt

    monkeypatch.setattr("kb.cli.sheet.photo.step", stop)
    assert command(studio, "add", str(card), *NEW) == 130
    assert "Stopped. Records that were acknowledged are on disk." in capsys.readouterr().err
    assert said == ["Taking photographs in, 0 % (1 of 4)", "Taking photographs in, 25 % (2 of 4)"]
    (first,) = taken(studio, SHEET)
    assert Path(first.file).read_bytes() == (card / "0.jpg").read_bytes()
    assert [path.name for path in (studio.root / "photographs").iterdir()] == [Path(first.file).name]
    assert verify(studio) == []
    monkeypatch.setattr("kb.cli.sheet.photo.step", said.append)
    assert command(studio, "add", str(card), *NEW) == 0
    assert len(taken(studio, SHEET)) == 4
    assert said[-1] == "Taking photographs in, 75 % (4 of 4)"
    assert verify(studio) == []


def test_an_empty_line_is_not_the_folder_one_stands_in(studio: Studio) -> None:
    """An empty path would be it."""
    with pytest.raises(DeskError, match="Name a picture, or a folder"):
        add_named(studio, {"file": " ", "sheet": SHEET})
    assert taken(studio) == []


def cut_short(path: Path) -> Path:
    """A copy that broke off half way."""
    jpeg(path, grain(4))
    path.write_bytes(path.read_bytes()[:-300])
    return path


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("cut.jpg", "damaged or cut short"),
        ("empty.jpg", "is empty"),
        ("words.jpg", "is not a picture"),
        ("gone.jpg", "cannot be read"),
    ],
)
def test_what_cannot_be_taken_in_records_nothing(
    studio: Studio, tmp_path: Path, name: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One clear sentence; neither a record nor a copy."""
    cut_short(tmp_path / "cut.jpg")
    (tmp_path / "empty.jpg").touch()
    (tmp_path / "words.jpg").write_text("words")
    assert command(studio, "add", str(tmp_path / name), *NEW, "--tag", "before") == 3
    assert said in " ".join(capsys.readouterr().err.split())
    assert taken(studio) == []
    assert not (studio.root / "photographs").exists()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_not_waited_for(studio: Studio, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    with pytest.raises(DeskError, match="is no plain file"):
        shot(studio, tmp_path / "pipe.jpg")


def test_heic_without_its_extra_is_kept_and_cannot_be_compared(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence names the install line; the file is safe in the studio meanwhile."""
    heif = pytest.importorskip("pillow_heif")
    heif.register_heif_opener()
    path = tmp_path / "phone.heic"
    Image.fromarray(np.repeat(np.repeat(grain(5), 4, 0), 4, 1)).save(path)
    monkeypatch.setitem(__import__("sys").modules, "pillow_heif", None)
    shot(studio, path, tags=["before"], area="F1")
    with pytest.raises(DeskError, match=r"pip install 'benchleaf\[photos\]'"):
        read_picture(Path(taken(studio)[0].file))


def test_a_swab_and_tags_that_cannot_be(studio: Studio, tmp_path: Path) -> None:
    """Each with what is wrong; nothing is recorded."""
    path = jpeg(tmp_path / "a.jpg", grain(6))
    for words, said in (
        ({"swab": "1,2"}, "no swabbed area"),
        ({"swab": "1,2,-3"}, "radius above zero"),
        ({"tags": ["sideways"]}, "is no tag"),
        ({"tags": ["before", "after"]}, "taken once"),
        ({"px_per_mm": "0"}, "scale"),
    ):
        with pytest.raises(DeskError, match=said):
            shot(studio, path, **words)
    assert taken(studio) == []


def test_a_watched_folder_gives_each_picture_once_it_stopped_growing(tmp_path: Path) -> None:
    """What was there before is left; a file that still grows waits; a folder that vanishes ends it."""
    folder = tmp_path / "phone"
    jpeg(folder / "old.jpg", grain(1))
    turns: Iterator[int] = iter(range(100))

    def pause(_: float) -> None:
        turn = next(turns)
        if turn == 0:
            jpeg(folder / "new.jpg", grain(2))
        if turn == 1:
            with (folder / "new.jpg").open("ab") as stream:
                stream.write(b"more")
        if turn == 5:
            (folder / "old.jpg").unlink()
            (folder / "new.jpg").unlink()
            folder.rmdir()

    found = watched(folder, pause)
    assert next(found).name == "new.jpg"
    assert next(turns) == 3
    with pytest.raises(DeskError, match="cannot be read any more"):
        next(found)


def test_watching_ends_by_the_keyboard_with_all_stored(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By command: two pictures arrive, then Ctrl+C."""
    folder = tmp_path / "phone"
    folder.mkdir()
    turns = iter(range(100))

    def pause(_: float) -> None:
        turn = next(turns)
        if turn < 2:
            jpeg(folder / f"{turn}.jpg", grain(turn))
        if turn == 5:
            raise KeyboardInterrupt

    monkeypatch.setattr(time, "sleep", pause)
    monkeypatch.setattr(pictures_taken.watched, "__defaults__", (pause,))
    assert command(studio, "add", "--watch", str(folder), *NEW, "--tag", "during") == 0
    assert len(taken(studio, SHEET)) == 2


def test_a_full_disk_keeps_what_was_stored_and_says_so(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of two files the second does not fit: the first is whole, of the second nothing is left."""
    first, second = (jpeg(tmp_path / f"{number}.jpg", grain(number)) for number in (1, 2))
    shot(studio, first, tags=["before"])
    real = os.fsync

    def full(handle: int) -> None:
        if os.readlink(f"/proc/self/fd/{handle}").endswith(".part"):
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr("kb.desk.records.photographs.os.fsync", full)
    assert command(studio, "add", str(second), *NEW, "--tag", "after") == 3
    assert "No space left on device" in capsys.readouterr().err
    assert [one.when for one in taken(studio)] == ["before"]
    assert len(list((studio.root / "photographs").iterdir())) == 1


def compared_studio(studio: Studio, tmp_path: Path, case: str, size: float) -> str:
    """A pair of one case in the studio; its id."""
    made = made_pair(case, 20, 20_003, size)
    swab = ",".join(f"{value:.1f}" for value in made.swab)
    first, second = (jpeg(tmp_path / f"{name}.jpg", getattr(made, name)) for name in ("before", "after"))
    shot(studio, first, tags=["before"], area="F3", face="front", px_per_mm="20", swab=swab)
    shot(studio, second, tags=["after"], area="f3", face="front")
    (written,) = pair_by_area(studio, SHEET)
    assert pair_by_area(studio, SHEET) == []
    return written.id


def test_a_stored_pair_is_compared_and_the_answer_kept(studio: Studio, tmp_path: Path) -> None:
    """Verdict, sentences, aligned pair, map and report lie beside the originals and are looked after."""
    pair_id = compared_studio(studio, tmp_path, "halo", 0.3)
    steps: list[tuple[str, float]] = []
    pair, _ = compare_pair(studio, pair_id, lambda text, share: steps.append((text, share)))
    assert pair.verdict == "possible-change"
    assert "look here" in pair.said
    assert {"before", "after", "aligned-before", "aligned-after", "difference", "overlay", "report"} == set(
        pair.files
    )
    report = json.loads(Path(pair.files["report"]).read_text())
    assert report["verdict"] == "possible-change"
    assert str(tmp_path) not in json.dumps(report)
    assert [share for _, share in steps] == sorted(share for _, share in steps)
    assert verify(studio) == []
    Path(pair.files["difference"]).unlink()
    assert [one.kind for one in verify(studio)] == ["photograph-missing"]


def test_a_comparison_that_is_stopped_keeps_nothing(studio: Studio, tmp_path: Path) -> None:
    """What the listener raises ends it; the pair waits as before."""
    pair_id = compared_studio(studio, tmp_path, "re-shot", 0.0)

    def stop(text: str, share: float) -> None:
        if share > 0.3:
            raise InterruptedError(text)

    with pytest.raises(InterruptedError):
        compare_pair(studio, pair_id, stop)
    assert [one.verdict for one in pairs(studio)] == [""]
    assert len(list((studio.root / "photographs").iterdir())) == 2


def test_a_pair_says_what_it_still_wants(
    studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the swabbed area there is no verdict; once it is marked there is."""
    made = made_pair("re-shot", 20, 20_004)
    first = shot(studio, jpeg(tmp_path / "b.jpg", made.before), tags=["before"], area="upper edge")
    shot(studio, jpeg(tmp_path / "a.jpg", made.after), tags=["after"], area="upper edge")
    assert command(studio, "pair", SHEET) == 0
    assert "say the scale in px/mm and the swabbed area" in " ".join(capsys.readouterr().out.split())
    swab = ",".join(f"{value:.0f}" for value in made.swab)
    assert command(studio, "swab", first, swab, "--px-per-mm", "20") == 0
    capsys.readouterr()
    assert command(studio, "compare", "--sheet", SHEET, "--json") == 0
    (found,) = json.loads(capsys.readouterr().out)["pairs"]
    assert found["verdict"] == "no-change"
    assert "would have been seen" in found["said"]


def test_photographs_of_two_sheets_are_no_pair(studio: Studio, tmp_path: Path) -> None:
    """Nor is one photograph."""
    first = shot(studio, jpeg(tmp_path / "b.jpg", grain(1)), tags=["before"])
    second = add(
        studio,
        jpeg(tmp_path / "a.jpg", grain(2)),
        {"sheet": "Another leaf", "new_sheet": True, "tags": ["after"]},
    ).id
    assert command(studio, "pair", first, second) == 3
    assert command(studio, "pair", first, first) == 3
    assert pairs(studio) == []


def test_many_megapixels_are_refused_before_they_are_read(studio: Studio, tmp_path: Path) -> None:
    """A header that claims more than is read takes no memory."""
    stream = io.BytesIO()
    Image.new("L", (8, 8)).save(stream, "PNG")
    raw = bytearray(stream.getvalue())
    raw[16:24] = (20_000).to_bytes(4, "big") + (20_000).to_bytes(4, "big")
    import zlib

    raw[29:33] = zlib.crc32(bytes(raw[12:29])).to_bytes(4, "big")
    path = tmp_path / "huge.png"
    path.write_bytes(bytes(raw))
    with pytest.raises(DeskError, match="megapixels"):
        shot(studio, path, tags=["before"])


def test_pairs_stand_side_by_side_in_the_record_that_is_handed_over(studio: Studio, tmp_path: Path) -> None:
    """Two pictures made new from their pixels, what was said, and no path of this machine."""
    import base64
    import re

    from kb.desk.sheet.report import html, report, text

    compare_pair(studio, compared_studio(studio, tmp_path, "halo", 0.3))
    made = report(studio, SHEET)
    page = html(made)
    shown = re.findall(r"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", page)
    assert len(shown) == 2
    for one in shown:
        assert not Image.open(io.BytesIO(base64.b64decode(one))).getexif()
    assert "possible change of ink: look at the pair" in page
    assert str(tmp_path) not in page + text(made)
    assert "a photograph before treatment" not in made.missing


@pytest.mark.parametrize(
    ("words", "said"),
    [(("--sheet", "Nowhere"), 'no sheet "Nowhere"'), ((*NEW, "--tag", "befor"), '"befor" is no tag')],
)
def test_what_is_wrong_of_all_pictures_is_said_once(
    words: tuple[str, ...], said: str, studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every picture of a folder was refused for it, each with the same sentence."""
    for number in range(3):
        jpeg(tmp_path / "phone" / f"{number}.jpg", grain(number))
    assert command(studio, "add", str(tmp_path / "phone"), *words) == (1 if len(words) == 2 else 3)
    assert capsys.readouterr().err.count(said) == 1
    with pytest.raises(DeskError) as told:
        add_named(
            studio,
            {
                "file": tmp_path / "phone",
                "sheet": words[-1] if len(words) == 2 else SHEET,
                "new_sheet": len(words) > 2,
                "tags": words[4:],
            },
        )
    assert str(told.value).count(said) == 1
    assert "What could be taken in" not in str(told.value)
    assert taken(studio) == []
