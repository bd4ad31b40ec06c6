"""Readings to samples: units, ways of measuring, names, ranges; what is open is refused."""

from collections.abc import Mapping

import numpy as np
import pytest

from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.gather import gather
from firstwash.paints.instrument.samples import Reading

GRID = tuple(float(nm) for nm in WAVELENGTHS_NM)
BLUE = np.linspace(0.6, 0.05, 36)
M0, M1, M2, M3 = ({"condition": f"M{i}"} for i in range(4))
SPHERE = {"geometry": "sphere, specular included"}
MATTE = {"geometry": "sphere, specular excluded"}
LAMP = {"geometry": "45/0"}


def reading(
    name: str = "A1",
    values=BLUE,
    conditions: Mapping[str, str] = {},
    percent: bool | None = False,
    grid: tuple[float, ...] = GRID,
) -> Reading:
    return Reading(name, grid, np.asarray(values, dtype=float), conditions, percent)


def refused(*readings: Reading) -> str:
    with pytest.raises(MeasurementError) as error:
        gather(readings, "a.txt")
    said = str(error.value)
    assert said.startswith("a.txt ")
    assert said.endswith(".")
    return said


# ------------------------------------------------------------------ units


def test_fractions_and_percent_that_are_told() -> None:
    told = gather([reading()], "a.txt")
    np.testing.assert_array_equal(told.samples[0].reflectance, BLUE)
    assert told.notes == ()
    percent = gather([reading(values=100 * BLUE, percent=True)], "a.txt")
    np.testing.assert_allclose(percent.samples[0].reflectance, BLUE, rtol=1e-15)
    assert percent.notes == ()


@pytest.mark.parametrize(
    ("scale", "dark", "said"), [(1, 0.05, "up to 0.6"), (100, 0.2, "up to 60")]
)
def test_the_unit_is_told_by_the_whole_file(scale: float, dark: float, said: str) -> None:
    """A dark sample alone could be either; the pale one beside it decides."""
    both = [
        reading(name, scale * share * BLUE, percent=None)
        for name, share in (("dark", dark), ("pale", 1))
    ]
    told = gather(both, "a.txt")
    np.testing.assert_allclose(told.samples[1].reflectance, BLUE, rtol=1e-15)
    unit = "percent" if scale > 1 else "fractions of 1"
    assert told.notes == (
        f"The file does not name its unit; with numbers {said} they are read as {unit}.",
    )


def test_units_that_cannot_be_told_are_refused() -> None:
    assert "percent or fractions" in refused(reading(values=1.5 * BLUE / 0.6, percent=None))
    assert "mixes percent and fractions" in refused(reading(), reading("A2", percent=True))
    mixed = refused(reading(values=100 * BLUE, percent=None), reading("A2", percent=None))
    assert "“A2” looks like fractions" in mixed
    assert "fractions of 1 but goes up to 60" in refused(reading(values=100 * BLUE))


def test_fluorescence_that_is_told_is_believed() -> None:
    told = gather([reading(values=1.5 * BLUE / 0.6)], "a.txt")
    assert told.samples[0].reflectance.max() == 1.5


@pytest.mark.parametrize("percent", [True, False])
def test_reflectances_no_paint_has_are_refused(percent: bool) -> None:
    scale = 100 if percent else 1
    low, high = BLUE.copy(), BLUE.copy()
    low[4], high[7] = -0.011, 2.01
    assert "“A1” a reflectance of -0.011 at 420 nm" in refused(
        reading(values=scale * low, percent=percent)
    )
    if percent:
        assert "“A1” a reflectance of 2.01 at 450 nm" in refused(
            reading(values=scale * high, percent=True)
        )


def test_an_instruments_noise_around_zero_is_set_to_zero() -> None:
    dark = np.full(36, 0.004)
    dark[35] = -0.01
    told = gather([reading(values=dark), reading("A2")], "a.txt")
    assert told.samples[0].reflectance[35] == 0
    assert told.notes == ("Small negative reflectances of 1 sample are set to 0.",)


# ------------------------------------------------------------------ names


def test_names_that_come_again_get_a_number() -> None:
    names = ["A1", "A1 (2)", "A1", "B", "A1", "A1 (2)"]
    told = gather([reading(name) for name in names], "a.txt")
    assert [s.name for s in told.samples] == ["A1", "A1 (2)", "A1 (3)", "B", "A1 (4)", "A1 (2) (2)"]
    assert told.notes == (
        "3 samples of a name that was there before: all are kept, the later ones with a number, "
        "as in “A1 (3)”.",
    )


def test_the_number_of_samples_is_limited() -> None:
    assert "more than 20,000 samples" in refused(*[reading()] * 20_001)


# ------------------------------------------------------------------ ways of measuring


@pytest.mark.parametrize(
    ("ways", "kept"),
    [
        ((M0, M1, M2), M1),
        ((M2, M0), M0),
        ((M3, {}), {}),
        ((M3, M2), M2),
        ((SPHERE, MATTE), MATTE),
        ((SPHERE, LAMP, MATTE), LAMP),
        (({**M0, **LAMP}, {**M1, **LAMP}), {**M1, **LAMP}),
    ],
)
def test_of_several_ways_the_one_for_a_painters_eye_is_kept(ways, kept) -> None:
    readings = [
        reading(name, BLUE * (1 - 0.1 * i), way)
        for name in ("A1", "A2")
        for i, way in enumerate(ways)
    ]
    told = gather(readings, "a.txt")
    assert dict(told.conditions) == kept
    assert [s.name for s in told.samples] == ["A1", "A2"]
    np.testing.assert_array_equal(
        told.samples[0].reflectance, BLUE * (1 - 0.1 * list(ways).index(kept))
    )
    assert told.notes[0].startswith("The file holds samples measured in several ways (")


def test_ways_that_do_not_agree_are_refused() -> None:
    assert "in different ways (M1 and M0)" in refused(
        reading("A1", BLUE, M1), reading("A2", BLUE, M0)
    )
    white, black = ({**M1, "backing": b} for b in ("white", "black"))
    said = refused(reading("A1", BLUE, white), reading("A1", BLUE, black))
    assert "in several ways (M1 white and M1 black); export one of them" in said


def test_crossed_polarisers_are_pointed_out() -> None:
    told = gather([reading(conditions=M3)], "a.txt")
    assert "crossed polarisers" in told.notes[0]


# ------------------------------------------------------------------ ranges and steps


def test_each_sample_has_its_own_range() -> None:
    short = GRID[2:-3]
    told = gather(
        [reading("A", BLUE), reading("B", BLUE[2:-3], grid=short), reading("C", BLUE)], "a.txt"
    )
    assert [s.name for s in told.samples] == ["A", "B", "C"]
    assert [int(s.bands_measured.sum()) for s in told.samples] == [36, 31, 36]
    assert told.samples[1].reflectance[0] == BLUE[2]
    assert told.notes == (
        "Measured from 400 to 700 nm; bands outside are held at the nearest measured one "
        "(1 sample).",
    )


def test_interpolation_is_told_and_stays_within_bounds() -> None:
    grid = tuple(float(nm) for nm in range(380, 741, 20))
    edge = np.where(np.array(grid) < 560, 0.0, 0.9)  # steeper than any paint's
    told = gather([reading(values=edge, grid=grid)], "a.txt")
    assert told.samples[0].reflectance.min() == 0  # the polynomial itself dips below
    assert told.notes == ("Measured every 20 nm from 380 nm; bands between are interpolated.",)


def test_too_many_ways_to_space_wavelengths_are_refused() -> None:
    readings = [reading(str(i), grid=tuple(nm - i / 100 for nm in GRID)) for i in range(65)]
    assert "more than 64 sets of wavelengths" in refused(*readings)
    assert len(gather(readings[:64], "a.txt").samples) == 64
