import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from overlay.errors import InputError
from overlay.frames.frame import Frame
from overlay.frames.read import read_frame

FIELD_C = np.round(25.0 + 30.0 * np.random.default_rng(4).random((9, 12)), 2)


def frame_from(folder: Path, content: bytes | str, name: str = "frame.dat", **options: object) -> Frame:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_frame(path, name, **options)  # type: ignore[arg-type]


def refusal(folder: Path, content: bytes | str, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        frame_from(folder, content, **options)
    assert all(problem.file == "frame.dat" and problem.remedy for problem in caught.value.problems)
    return str(caught.value)


def npy(array: np.ndarray, **options: object) -> bytes:
    stream = io.BytesIO()
    np.save(stream, array, **options)  # type: ignore[arg-type]
    return stream.getvalue()


def tiff(array: np.ndarray, **options: object) -> bytes:
    stream = io.BytesIO()
    tifffile.imwrite(stream, array, **options)  # type: ignore[arg-type]
    return stream.getvalue()


def png(image: Image.Image, **options: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "PNG", **options)  # type: ignore[arg-type]
    return stream.getvalue()


def matrix(values: np.ndarray, delimiter: str, decimal: str = ".") -> str:
    return "\n".join(delimiter.join(f"{value:.2f}".replace(".", decimal) for value in row) for row in values) + "\n"


@pytest.mark.parametrize(
    ("delimiter", "decimal"),
    [(",", "."), (", ", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), (" ", "."), ("  ", ","), ("; ", ",")],
)
def test_delimiter_and_decimal_sign_are_found(tmp_path: Path, delimiter: str, decimal: str) -> None:
    frame = frame_from(tmp_path, matrix(FIELD_C, delimiter, decimal))
    assert frame.shape_px == (9, 12)
    assert frame.times_s is None
    np.testing.assert_array_equal(frame.temperature_c[0], FIELD_C)


def test_remarks_blank_lines_bom_and_trailing_delimiters_are_passed_over(tmp_path: Path) -> None:
    body = matrix(FIELD_C, ";").replace("\n", ";\r\n\r\n")
    frame = frame_from(tmp_path, b"\xef\xbb\xbf# in \xc2\xb0C\r\n" + body.encode())
    np.testing.assert_array_equal(frame.temperature_c[0], FIELD_C)
    latin = frame_from(tmp_path, b"# in \xb0C\n" + matrix(FIELD_C, ",").encode())
    np.testing.assert_array_equal(latin.temperature_c[0], FIELD_C)
    wide = frame_from(tmp_path, matrix(FIELD_C, "\t", ",").encode("utf-16"))
    np.testing.assert_array_equal(wide.temperature_c[0], FIELD_C)


def test_quoted_decimal_commas_between_commas_are_read(tmp_path: Path) -> None:
    text = "\n".join(",".join(f'"{value:.2f}"'.replace(".", ",") for value in row) for row in FIELD_C)
    np.testing.assert_array_equal(frame_from(tmp_path, text).temperature_c[0], FIELD_C)


def test_unquoted_decimal_commas_between_commas_are_refused(tmp_path: Path) -> None:
    assert "cannot be told apart" in refusal(tmp_path, matrix(FIELD_C, ",", ","))
    whole = np.round(FIELD_C)
    text = "\n".join(",".join(f"{value:.0f}" for value in row) for row in whole)
    np.testing.assert_array_equal(frame_from(tmp_path, text).temperature_c[0], whole)


def test_row_and_column_numbers_with_a_blank_corner_are_taken_off(tmp_path: Path) -> None:
    for corner in ("", "y/x"):
        lines = [",".join([corner, *map(str, range(12))])]
        lines += [",".join([str(row), *(f"{value:.2f}" for value in FIELD_C[row])]) for row in range(9)]
        np.testing.assert_array_equal(frame_from(tmp_path, "\n".join(lines)).temperature_c[0], FIELD_C)


@pytest.mark.parametrize("first", [0, 1])
def test_rows_and_columns_that_count_are_taken_off_and_that_is_said(tmp_path: Path, first: int) -> None:
    header = ",".join(str(first + col) for col in range(12)) + "\n"
    frame = frame_from(tmp_path, header + matrix(FIELD_C, ","))
    np.testing.assert_array_equal(frame.temperature_c[0], FIELD_C)
    assert any("counts its columns" in note for note in frame.notes)
    numbered = "\n".join(f"{first + row},{line}" for row, line in enumerate(matrix(FIELD_C, ",").splitlines()))
    frame = frame_from(tmp_path, numbered)
    np.testing.assert_array_equal(frame.temperature_c[0], FIELD_C)
    assert any("counts its rows" in note for note in frame.notes)


def test_a_ramp_of_temperatures_by_one_is_no_row_of_numbers(tmp_path: Path) -> None:
    ramp = np.add.outer(np.arange(9.0), np.arange(12.0))
    np.testing.assert_array_equal(frame_from(tmp_path, matrix(ramp, ",")).temperature_c[0], ramp)


@pytest.mark.parametrize(
    "heading",
    ["Bench 3", "Date;2026-11-25\nDistance;0,35 m\nTemperature [°C]", "Emissivity 0.95, reflected 23 °C"],
)
def test_lines_of_words_before_the_matrix_are_passed_over_and_that_is_said(tmp_path: Path, heading: str) -> None:
    frame = frame_from(tmp_path, heading + "\n" + matrix(FIELD_C, ";", ","))
    np.testing.assert_array_equal(frame.temperature_c[0], FIELD_C)
    assert any("before the matrix" in note for note in frame.notes)


def test_units_stated_in_the_file_are_converted_and_units_in_cells_taken_off(tmp_path: Path) -> None:
    kelvin, fahrenheit = FIELD_C + 273.15, FIELD_C * 1.8 + 32.0
    for text in (
        "Unit: K\n" + matrix(kelvin, ";", ","),
        "# temperatures in kelvin\n" + matrix(kelvin, ","),
        "Temperature (°F)\n" + matrix(fahrenheit, "\t"),
        "Reflected 23 °C\nTemperature in Fahrenheit\n" + matrix(fahrenheit, ","),
        "\n".join(";".join(f"{value:.2f} K" for value in row) for row in kelvin),
        "\n".join(";".join(f"{value:.2f}°F" for value in row) for row in fahrenheit),
        "\n".join(";".join(f"{value:.3f} °C".replace(".", ",") for value in row) for row in FIELD_C),
    ):
        frame = frame_from(tmp_path, text)
        np.testing.assert_allclose(frame.temperature_c[0], FIELD_C, atol=0.011)
        assert frame.notes
    # what the job says wins over what the file says
    frame = frame_from(tmp_path, "Unit: K\n" + matrix(kelvin, ";"), offset=-273.0)
    np.testing.assert_allclose(frame.temperature_c[0], FIELD_C + 0.15, atol=0.011)


def test_two_units_in_one_file_are_refused(tmp_path: Path) -> None:
    assert "in K and in °C" in refusal(tmp_path, "Temperature [K]\nTemperature [°C]\n" + matrix(FIELD_C, ","))


def test_each_cell_that_is_no_number_is_named_with_line_and_column(tmp_path: Path) -> None:
    text = matrix(FIELD_C, ",").splitlines()
    text[2] = text[2].replace(text[2].split(",")[3], "n/a")
    text[5] = ",".join(["", *text[5].split(",")[1:]])
    text[7] = ",".join([*text[7].split(",")[:-1], "nan"])
    message = refusal(tmp_path, "# remark\n" + "\n".join(text))
    assert "frame.dat:4: column 4: 'n/a'" in message
    assert "frame.dat:7: column 1 is blank" in message
    assert "frame.dat:9: column 12: 'nan'" in message


def test_rows_of_unequal_length_are_named_by_line(tmp_path: Path) -> None:
    message = refusal(tmp_path, "25.0\n" + matrix(FIELD_C, ",") + "25.0,26.0\n")
    assert "frame.dat:1: has 1 cell where most rows have 12" in message
    assert "frame.dat:11: has 2 cells where most rows have 12" in message


def test_thousands_points_beside_decimal_commas_are_refused(tmp_path: Path) -> None:
    text = matrix(FIELD_C, ";", ",").replace(f"{FIELD_C[0, 0]:.2f}".replace(".", ","), "1.025,50", 1)
    assert "one decimal sign" in refusal(tmp_path, text)


@pytest.mark.parametrize("dtype", ["<f8", ">f4", "<f2", "<i2", ">u2", "u1", "<i8"])
def test_npy_of_any_plain_number_type_is_read(tmp_path: Path, dtype: str) -> None:
    values = np.round(FIELD_C).astype(dtype)
    np.testing.assert_array_equal(frame_from(tmp_path, npy(values)).temperature_c[0], np.round(FIELD_C))
    stack = frame_from(tmp_path, npy(np.asfortranarray(np.stack([values] * 3))), period_s=5.0)
    assert stack.pages == 3
    assert stack.times_s is not None
    assert stack.times_s.tolist() == [0.0, 5.0, 10.0]


def test_npy_that_is_no_plain_array_is_refused(tmp_path: Path) -> None:
    objects = np.full((9, 12), None, dtype=object)
    assert "not plain numbers" in refusal(tmp_path, npy(objects, allow_pickle=True))
    assert "not plain numbers" in refusal(tmp_path, npy(FIELD_C.astype(complex)))
    assert "not plain numbers" in refusal(tmp_path, npy(FIELD_C > 30.0))
    assert "1 dimension" in refusal(tmp_path, npy(FIELD_C.ravel()))
    assert "4 dimensions" in refusal(tmp_path, npy(FIELD_C[None, None]))
    assert "false colour" in refusal(tmp_path, npy(np.stack([FIELD_C] * 3, axis=-1)))
    assert "at least 8" in refusal(tmp_path, npy(FIELD_C[:7]))
    assert "cut off" in refusal(tmp_path, npy(FIELD_C)[:-3])


def test_a_header_that_announces_too_much_is_refused_before_memory_is_taken(tmp_path: Path) -> None:
    header = b"{'descr': '<f8', 'fortran_order': False, 'shape': (1000000, 1000000), }"
    header += b" " * (118 - len(header) - 1) + b"\n"
    assert "can be read" in refusal(tmp_path, b"\x93NUMPY\x01\x00" + struct.pack("<H", len(header)) + header)
    chunk = b"IHDR" + struct.pack(">IIBBBBB", 60000, 60000, 16, 0, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))
    data = b"IDAT" + zlib.compress(b"\0")
    bomb += struct.pack(">I", len(data) - 4) + data + struct.pack(">I", zlib.crc32(data))
    assert refusal(tmp_path, bomb)


def test_sixteen_bit_grey_png_is_read_with_scale_and_offset(tmp_path: Path) -> None:
    counts = np.round((FIELD_C + 100.0) * 100.0).astype(np.uint16)
    frame = frame_from(tmp_path, png(Image.fromarray(counts)), scale=0.01, offset=-100.0)
    np.testing.assert_allclose(frame.temperature_c[0], FIELD_C, rtol=0, atol=1e-9)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
def test_png_of_any_other_kind_is_refused_with_the_reason(tmp_path: Path, mode: str) -> None:
    message = refusal(tmp_path, png(Image.new(mode, (12, 9))))
    assert "16-bit grey PNG" in message
    assert ("false colour" in message) == (mode in ("P", "RGB", "RGBA"))


@pytest.mark.parametrize("dtype", ["uint8", "int16", "uint16", "float32", "float64"])
@pytest.mark.parametrize("options", [{}, {"compression": "zlib"}, {"tile": (16, 16)}, {"byteorder": ">"}])
def test_tiff_of_integers_and_floats_is_read(tmp_path: Path, dtype: str, options: dict[str, object]) -> None:
    values = np.round(FIELD_C).astype(dtype)
    np.testing.assert_array_equal(frame_from(tmp_path, tiff(values, **options)).temperature_c[0], values)


def test_several_tiff_pages_are_frames_in_time(tmp_path: Path) -> None:
    stack = np.stack([FIELD_C, FIELD_C + 1.0, FIELD_C + 1.5]).astype(np.float32)
    frame = frame_from(tmp_path, tiff(stack, photometric="minisblack"), times_s=[10.0, 20.0, 40.0])
    np.testing.assert_array_equal(frame.temperature_c, stack)
    assert frame.times_s is not None
    assert frame.times_s.tolist() == [0.0, 10.0, 30.0]
    message = refusal(tmp_path, tiff(stack, photometric="minisblack"), times_s=[0.0, 1.0])
    assert "3 pages" in message
    assert "lists 2" in message


def test_tiff_in_colours_or_with_unlike_pages_is_refused(tmp_path: Path) -> None:
    assert "colours" in refusal(tmp_path, tiff(np.zeros((9, 12, 3), np.uint8), photometric="rgb"))
    colormap = np.zeros((3, 256), np.uint16)
    assert "colours" in refusal(tmp_path, tiff(np.zeros((9, 12), np.uint8), photometric="palette", colormap=colormap))
    stream = io.BytesIO()
    with tifffile.TiffWriter(stream) as writer:
        writer.write(FIELD_C.astype(np.float32))
        writer.write(FIELD_C[:8].astype(np.float32))
    assert "page 2 is 8 × 12" in refusal(tmp_path, stream.getvalue())


def test_a_tiff_cut_off_anywhere_never_reads_as_zeros(tmp_path: Path) -> None:
    whole = tiff(FIELD_C.astype(np.float32), rowsperstrip=2)
    for length in range(len(whole) - 1, 0, -7):
        try:
            frame = frame_from(tmp_path, whole[:length])
        except InputError:
            continue
        np.testing.assert_array_equal(frame.temperature_c[0], FIELD_C.astype(np.float32))


def test_a_stack_written_with_one_directory_only_is_refused(tmp_path: Path) -> None:
    stack = np.stack([FIELD_C] * 4).astype(np.float32)
    message = refusal(tmp_path, tiff(stack, imagej=True, truncate=True))
    assert "announces 4 pages" in message


def test_values_that_are_no_temperatures_are_refused(tmp_path: Path) -> None:
    assert "raw sensor counts" in refusal(tmp_path, npy(np.full((9, 12), 29715, np.uint16)))
    assert "kelvin" in refusal(tmp_path, npy(FIELD_C + 273.15))
    dead = FIELD_C.copy()
    dead[4, 6] = -273.15
    assert "the first at pixel (6, 4)" in refusal(tmp_path, npy(dead))
    for value in (np.nan, np.inf):
        dead[4, 6] = value
        assert "not finite numbers, the first at pixel (6, 4)" in refusal(tmp_path, npy(dead))
    assert "frame_scale" in refusal(tmp_path, npy(FIELD_C), scale=0.0)
    counts = np.round((FIELD_C + 273.15) * 100).astype(np.uint16)
    frame = frame_from(tmp_path, npy(counts), scale=0.01, offset=-273.15)
    np.testing.assert_allclose(frame.temperature_c[0], FIELD_C, rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("start", "word"),
    [(b"\xff\xd8\xff\xe0", "JPEG"), (b"PK\x03\x04", "ZIP"), (b"GIF89a", "GIF"), (b"%PDF-1.4", "PDF"), (b"", "empty")],
)
def test_files_of_other_kinds_are_named(tmp_path: Path, start: bytes, word: str) -> None:
    assert word in refusal(tmp_path, start)


def test_a_missing_file_is_named_as_the_user_wrote_it(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"frames/full\.tiff: no such file"):
        read_frame(tmp_path / "full.tiff", "frames/full.tiff")


def test_a_frame_cannot_be_written_to(tmp_path: Path) -> None:
    frame = frame_from(tmp_path, npy(FIELD_C))
    with pytest.raises(ValueError, match="read-only"):
        frame.temperature_c[0, 0, 0] = 0.0


SEEDS = [
    b"",
    npy(FIELD_C.astype(np.float32)),
    tiff(FIELD_C.astype(np.float32)),
    tiff(np.round(FIELD_C).astype(np.uint16), compression="zlib", tile=(16, 16)),
    png(Image.fromarray(np.round(FIELD_C).astype(np.uint16))),
    matrix(FIELD_C, ",").encode(),
    matrix(FIELD_C, ";", ",").encode(),
]


@given(
    seed=st.sampled_from(SEEDS),
    edits=st.lists(st.tuples(st.integers(0, 2000), st.binary(max_size=6)), max_size=4),
    tail=st.binary(max_size=40),
    cut=st.none() | st.integers(0, 1500),
)
def test_any_bytes_give_a_frame_or_an_input_error(
    tmp_path_factory: pytest.TempPathFactory,
    seed: bytes,
    edits: list[tuple[int, bytes]],
    tail: bytes,
    cut: int | None,
) -> None:
    data = bytearray(seed)
    for place, content in edits:
        data[place : place + len(content)] = content
    path = tmp_path_factory.getbasetemp() / "any.bin"
    path.write_bytes((bytes(data) + tail)[:cut])
    try:
        frame = read_frame(path, "any.bin")
    except InputError as error:
        assert error.problems
    else:
        assert np.isfinite(frame.temperature_c).all()


@given(st.text(alphabet='0123456789.,;\t -+eE\n#"naif\u00b0', max_size=400))
def test_any_text_gives_a_frame_or_an_input_error(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_text(text, encoding="utf-8")
    try:
        read_frame(path, "any.csv")
    except InputError as error:
        assert error.problems


def packed_tiff(strip: bytes, rows: int = 48, cols: int = 64, pages: int = 1) -> bytes:
    from tests.bombs import tiff

    return tiff(rows, cols, zlib.compress(strip, 9), compression=8, pages=pages)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (packed_tiff(b"\0" * 50_000_000), "unpacks to more values than it has pixels"),
        (packed_tiff(b"\0" * 12_000_000, 2000, 3000, 10), "from 0.0 MB, as no frame does"),
        (packed_tiff(b"\0" * 6144, pages=3)[:-40], "is cut off: the directory of page 3 lies beyond its end"),
        (packed_tiff(b"\0" * 6144, 48, 64, 6000), "more than 5000 pages"),
        (packed_tiff(b"\0" * 24, 3000, 3000), "million values a page"),
    ],
)
def test_a_small_file_that_asks_for_much_is_refused(tmp_path: Path, data: bytes, what: str) -> None:
    path = tmp_path / "frame.tiff"
    path.write_bytes(data)
    with pytest.raises(InputError, match=what):
        read_frame(path, "frame.tiff")
