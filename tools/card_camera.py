"""Light and phone camera for made-up photos of painted cards: from spectra to a JPEG.

Nothing here is known to the reader that is tested with it: the sensors are the two measured
sensitivities that [colour] carries, slightly shifted, and the rest of the phone (white
balance, colour matrix, tone, saturation, local contrast, sharpening) is drawn at random.
Wavelengths: the grid of `firstwash.optics.grid`, 36 bands.
"""

import io
import struct
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import colour
import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM

__all__ = [
    "Camera",
    "Light",
    "encoded",
    "jpeg",
    "lab_d65",
    "lab_of",
    "random_camera",
    "random_light",
    "smooth_field",
    "smooth_spectra",
    "xyz_d65",
]

Floats = NDArray[np.float64]
Pixels = NDArray[np.float32]
Space = Literal["sRGB", "P3"]

TOP: Final = 1.6  # brightest linear value the tone table holds
LEDS: Final = ("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-V1", "LED-V2")
LAYERED: Final = 0.15  # share of phones with the second sensor
GRAIN: Final = 0.001  # of raw values, which a maker's matrix must not blow up
TUBES: Final = ("FL2", "FL7", "FL8", "FL10", "FL11", "FL12")


# ------------------------------------------------------------------ spectra


def _on_grid(values: Floats, nm: Floats) -> Floats:
    """(36, ...) of a table at steps of 5 or 10 nm, each band the mean of its 10 nm."""
    fine = np.arange(375.0, 736.0, 5.0)
    table = np.array([np.interp(fine, nm, v, 0.0, 0.0) for v in np.atleast_2d(values.T)]).T
    smooth = 0.25 * table[:-2:2] + 0.5 * table[1:-1:2] + 0.25 * table[2::2]
    return smooth if values.ndim > 1 else smooth[:, 0]


@cache
def _observer() -> Floats:
    table = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return _on_grid(table.values, table.wavelengths)


@cache
def _illuminant(name: str) -> Floats:
    table = colour.SDS_ILLUMINANTS[name]
    found = _on_grid(table.values, table.wavelengths)
    first = int(np.argmax(found > 0))
    found[:first] = found[first] * 0.5  # a lamp table may begin at 400 nm
    return found


def _planck(kelvin: float) -> Floats:
    metres = WAVELENGTHS_NM * 1e-9
    return np.asarray(metres**-5.0 / np.expm1(1.4388e-2 / (metres * kelvin)))


def _daylight(kelvin: float) -> Floats:
    xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
    table = colour.sd_CIE_illuminant_D_series(xy)
    return _on_grid(np.asarray(table.values, float), np.asarray(table.wavelengths, float))


def smooth_spectra(rng: np.random.Generator, n: int) -> Floats:
    """(n, 36) reflectances as smooth and as varied as those of painted chips."""
    steps = np.linspace(WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1], 7)
    centres = rng.uniform(steps[0], steps[-1], (n, 1))
    width = np.exp(rng.uniform(np.log(15.0), np.log(80.0), (n, 1)))
    edge = rng.normal(0, 1.6, (n, 1)) * np.tanh((WAVELENGTHS_NM - centres) / width)
    bumps = np.array([np.interp(WAVELENGTHS_NM, steps, v) for v in rng.normal(0, 0.5, (n, 7))])
    return np.asarray(0.03 + 0.87 / (1 + np.exp(-(edge + bumps + rng.normal(-0.6, 1.0, (n, 1))))))


def _xyz(reflectance: Floats, light: Floats) -> Floats:
    weights = light[:, None] * _observer()
    return np.asarray(reflectance @ weights / weights[:, 1].sum())


def xyz_d65(reflectance: Floats) -> Floats:
    """XYZ (..., 3) of reflectance (..., 36) in D65 by that of perfect white [CIE15]."""
    light = _illuminant("D65")
    return np.asarray(_xyz(reflectance, light) / _xyz(np.ones(N_BANDS), light))


def lab_d65(reflectance: Floats) -> Floats:
    """CIELAB (..., 3) of reflectance (..., 36) in D65 [CIE15]."""
    return lab_of(xyz_d65(reflectance))


def lab_of(ratio: Floats) -> Floats:
    """CIELAB (..., 3) of XYZ (..., 3) by that of white [CIE15]."""
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


# ------------------------------------------------------------------ light


@dataclass(frozen=True, eq=False)
class Light:
    """A light: its kind, spectrum (36,) and colour temperature in K."""

    kind: str
    spectrum: Floats
    kelvin: float


def _named_light(rng: np.random.Generator) -> tuple[str, Floats]:
    kind = rng.choice(["daylight", "window", "bulb", "led", "tube"], p=[0.4, 0.2, 0.15, 0.17, 0.08])
    if kind == "daylight":
        return "daylight", _daylight(rng.uniform(4800, 7500))
    bulb = _planck(rng.uniform(2700, 3100)) if rng.random() < 0.5 else _illuminant("A")
    if kind == "bulb":
        return "bulb", bulb
    if kind == "window":  # daylight with some of a lamp, or of the room's warm walls, in it
        share = rng.uniform(0.05, 0.5)
        day = _daylight(rng.uniform(5000, 7500))
        return "window", (1 - share) * day / day.mean() + share * bulb / bulb.mean()
    name = str(rng.choice(LEDS if kind == "led" else TUBES))
    return name, _illuminant(name)


def _kelvin(spectrum: Floats) -> float:
    x, y, z = _xyz(np.ones(N_BANDS), spectrum)
    n = (x / (x + y + z) - 0.3320) / (0.1858 - y / (x + y + z))  # McCamy, from memory
    return float(449 * n**3 + 3525 * n**2 + 6823.3 * n + 5520.33)


def random_light(rng: np.random.Generator) -> Light:
    """A light as it falls on a table: daylight, lamp or both, tinted by the room."""
    kind, spectrum = _named_light(rng)
    slope = np.linspace(-1, 1, N_BANDS)
    tint = np.exp(rng.normal(0, 0.06) * slope + rng.normal(0, 0.03) * (slope**2 - 0.33))
    tinted = spectrum / spectrum.mean() * tint
    return Light(kind, tinted, _kelvin(tinted))


# ------------------------------------------------------------------ camera


@dataclass(frozen=True, eq=False)
class Camera:
    """A phone that has set itself to a light.

    sees: (36, 3) raw red, green, blue of a reflectance in that light, 1 for perfect white.
    balance: (3,) what white becomes, off by the error of the automatic white balance.
    matrix: (3, 3) raw to the linear light of `space`; keeps neutrals.
    shoulder, contrast, toe: of the tone curve. saturation: 1 for none added. local: strength
    of the local contrast. sharpen, blur: of details, in pixels at 12 megapixels. noise:
    (shot, read). flare: share of the mean light spread evenly.
    """

    sees: Floats
    balance: Floats
    matrix: Floats
    shoulder: float
    contrast: float
    toe: float
    saturation: float
    local: float
    sharpen: float
    blur: float
    noise: tuple[float, float]
    flare: float
    vignette: float
    space: Space
    sensor: int

    def tone(self, linear: Floats) -> Floats:
        """Encoded values in [0, 1] of linear light; rises everywhere."""
        x = np.maximum(linear, 0.0)
        x = x * (1 + self.shoulder) / (1 + x * self.shoulder)
        u = np.clip(encoded(np.minimum(x, 1.0)), 0.0, 1.0)
        bent = u**1.6 / (u**1.6 + 0.9 * (1 - u) ** 1.6)
        return np.asarray(
            self.toe + (1 - self.toe) * ((1 - self.contrast) * u + self.contrast * bent)
        )

    def exposure(self, code: float) -> float:
        """Linear value of a neutral that the tone curve makes `code`."""
        x = np.linspace(0.0, TOP, 4001)
        return float(np.interp(code, self.tone(x), x))


def encoded(linear: Floats) -> Floats:
    """The curve of [IEC61966-2-1]."""
    x = np.asarray(linear)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055)


@cache
def _sensors() -> tuple[Floats, ...]:
    """The measured sensitivities, in the package's own order, as (nm, (n, 3)) joined."""
    tables = [colour.MSDS_CAMERA_SENSITIVITIES[k] for k in colour.MSDS_CAMERA_SENSITIVITIES]
    return tuple(np.column_stack([t.wavelengths, t.values]) for t in tables)


def _sensor(rng: np.random.Generator) -> tuple[int, Floats]:
    """One of the sensors, its filters a little steeper or flatter and a few nm to one side.

    The second has three layers in depth, which see nearly alike: seldom found in a phone.
    """
    which = int(rng.random() < LAYERED)
    table = _sensors()[which]
    steep = np.exp(rng.normal(0, 0.12))
    moved = [_on_grid(table[:, c] ** steep, table[:, 0] + rng.normal(0, 2.5)) for c in (1, 2, 3)]
    return which, np.stack(moved, axis=1)


def _normalised(sensor: Floats, light: Floats) -> Floats:
    weights = sensor * light[:, None]
    return np.asarray(weights / weights.sum(axis=0))


_BRADFORD: Final = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)  # from memory; turns the white of one light into another's


def _maker_matrix(sensor: Floats, kelvin: float, space: Space) -> Floats:
    """Raw to linear RGB as a maker fits it in a standard light of that temperature.

    Least squares over chips of the maker's own; every row sums to 1, so greys stay grey.
    """
    light = _daylight(kelvin) if kelvin > 4000 else _planck(kelvin)
    chips = smooth_spectra(np.random.default_rng(5), 300)
    raw = chips @ _normalised(sensor, light)
    name = {"sRGB": "sRGB", "P3": "Display P3"}[space]
    to_rgb = colour.RGB_COLOURSPACES[name].matrix_XYZ_to_RGB
    wanted = _xyz(chips, _illuminant("D65")) @ to_rgb.T
    wanted /= _xyz(np.ones(N_BANDS), _illuminant("D65")) @ to_rgb.T
    weight = 1 / (0.1 + wanted.mean(axis=1, keepdims=True))  # light chips are not all that counts
    rows = []
    for c in range(3):  # x_c + Σ m_j (x_j - x_c): sums to one by construction
        others = [j for j in range(3) if j != c]
        a = raw[:, others] - raw[:, [c]]
        m = _least(a * weight, (wanted[:, c] - raw[:, c]) * weight[:, 0])
        row = np.zeros(3)
        row[others], row[c] = m, 1 - m.sum()
        rows.append(row)
    return np.array(rows)


def _least(a: Floats, b: Floats) -> Floats:
    """Least squares that shies away from amplifying noise."""
    grain = GRAIN * np.sqrt(len(a)) * np.eye(a.shape[1]) * 3
    return np.asarray(np.linalg.lstsq(np.vstack([a, grain]), np.append(b, [0.0] * len(grain)))[0])


def random_camera(rng: np.random.Generator, light: Light) -> Camera:
    """A phone that looks at a light, with its habits and its errors."""
    which, sensor = _sensor(rng)
    space: Space = "P3" if rng.random() < 0.4 else "sRGB"
    believed = float(np.clip(light.kelvin * np.exp(rng.normal(0, 0.06)), 2300, 12000))
    warm = np.clip((5000 - light.kelvin) / 2200, 0, 1)  # a lamp's yellow is left in part
    left = rng.uniform(0.0, 0.3) * warm
    tinge = np.array([0.25, 0.0, -0.45]) * left
    white = np.exp(tinge + rng.normal(0, 1, 3) * (0.025, 0.008, 0.03))
    matrix = _maker_matrix(sensor, max(believed, 2500), space)
    balance = np.linalg.solve(matrix, white)
    clean = 0.2 if which else 1.0  # its channels lie so close that the matrix adds much
    return Camera(
        sees=_normalised(sensor, light.spectrum), balance=balance / balance[1],
        matrix=matrix,
        shoulder=rng.uniform(0.05, 0.45), contrast=rng.uniform(0.05, 0.5),
        toe=rng.uniform(0.0, 0.01), saturation=1 + rng.uniform(0, 0.15),
        local=rng.uniform(0.0, 0.10), sharpen=rng.uniform(0.1, 0.6), blur=rng.uniform(0.6, 1.1),
        noise=(clean**2 * rng.uniform(2e-5, 2.5e-4), clean * rng.uniform(5e-4, 2.5e-3)),
        flare=rng.uniform(0.001, 0.012), vignette=rng.uniform(0.0, 0.25), space=space, sensor=which,
    )  # fmt: skip


# ------------------------------------------------------------------ pixels


def smooth_field(rng: np.random.Generator, shape: tuple[int, int], cells: float) -> Pixels:
    """(rows, cols) smooth noise of unit spread, about `cells` bumps along the longer side."""
    longer = max(shape)
    small = [max(4, round(cells * n / longer) + 3) for n in shape]
    noise = rng.standard_normal(small, dtype=np.float32)
    return np.asarray(cv2.resize(noise, shape[::-1], interpolation=cv2.INTER_CUBIC)) * 1.3


def local_gain(linear: Pixels, strength: float) -> Pixels:
    """(rows, cols) gain that lifts dark parts and lowers light ones; linear (rows, cols, 3)."""
    light = cv2.GaussianBlur(linear.mean(axis=2), (0, 0), 0.05 * max(linear.shape))
    depth = np.log(np.maximum(light, 1e-3) / np.median(light))
    return np.asarray(np.exp(np.clip(-0.7 * depth, -1, 1) * strength), np.float32)


def develop(
    camera: Camera, raw: Pixels, scale: float, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """The phone's picture (rows, cols, 3) of balanced raw light, exposed by `scale`.

    raw is used up. Blur and sharpening are in pixels of a picture 4,000 wide.
    """
    size = max(raw.shape) / 4000.0
    cv2.GaussianBlur(raw, (0, 0), max(camera.blur * size, 0.3), dst=raw)
    raw += np.float32(camera.flare) * raw[::16, ::16].mean(axis=(0, 1))
    _add_noise(raw, camera.noise, scale, rng)
    cv2.transform(raw, scale * camera.matrix * camera.balance, dst=raw)
    codes = _toned(camera, raw)
    grey = np.array([0.2126, 0.7152, 0.0722])
    boost = camera.saturation * np.eye(3) + (1 - camera.saturation) * grey
    cv2.transform(codes, 255.0 * boost, dst=codes)
    soft = cv2.GaussianBlur(codes, (0, 0), max(1.2 * size, 0.4))
    cv2.addWeighted(codes, 1 + camera.sharpen, soft, -camera.sharpen, 0.0, dst=codes)
    return np.asarray(cv2.convertScaleAbs(np.maximum(codes, 0.0, out=codes)))


def _add_noise(
    raw: Pixels, noise: tuple[float, float], scale: float, rng: np.random.Generator
) -> None:
    """Shot and read noise; one tile of it is laid over and over."""
    rows, cols = raw.shape[:2]
    tile = rng.standard_normal((512, 768, 3), dtype=np.float32)
    shot, read = noise[0] / scale, (noise[1] / scale) ** 2
    for y in range(0, rows, 512):
        part = raw[y : y + 512]
        spread = np.sqrt(np.float32(shot) * np.maximum(part, 0) + np.float32(read))
        wide = np.tile(np.roll(tile, int(rng.integers(768)), axis=1), (1, -(-cols // 768), 1))
        part += spread * wide[: len(part), :cols]


def _toned(camera: Camera, linear: Pixels) -> Pixels:
    """Encoded values in [0, 1] by a table of 65,536 steps."""
    table = camera.tone(np.linspace(0.0, TOP, 65536)).astype(np.float32)
    np.clip(linear, 0.0, TOP, out=linear)
    index = (linear * np.float32(65535 / TOP)).astype(np.uint16)
    return np.asarray(np.take(table, index, out=linear, mode="clip"))


def jpeg(picture: NDArray[np.uint8], space: Space, quality: int = 80) -> bytes:
    """The file, 4:2:0, with its profile."""
    out = io.BytesIO()
    profile = _p3_profile() if space == "P3" else _srgb_profile()
    Image.fromarray(picture).save(
        out, "JPEG", quality=quality, subsampling="4:2:0", icc_profile=profile
    )  # fmt: skip
    return out.getvalue()


@cache
def _srgb_profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


@cache
def _p3_profile() -> bytes:
    """A matrix profile with the primaries of [P3] and the curve of sRGB [ICC1]."""
    d50 = np.array([0.96422, 1.0, 0.82521])
    to_xyz = colour.RGB_COLOURSPACES["Display P3"].matrix_RGB_to_XYZ
    cone = np.diag((_BRADFORD @ d50) / (_BRADFORD @ to_xyz.sum(axis=1)))
    columns = (np.linalg.inv(_BRADFORD) @ cone @ _BRADFORD @ to_xyz).T

    def fixed(*values: float) -> bytes:
        return struct.pack(f">{len(values)}i", *(round(v * 65536) for v in values))

    curve = b"para" + struct.pack(">IHH", 0, 3, 0)
    curve += fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    tags = {b"wtpt": b"XYZ " + bytes(4) + fixed(*d50)}
    tags |= {
        n: b"XYZ " + bytes(4) + fixed(*c)
        for n, c in zip((b"rXYZ", b"gXYZ", b"bXYZ"), columns, strict=True)
    }
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
    tags[b"desc"] = b"desc" + bytes(4) + struct.pack(">I", 11) + b"Display P3\0" + bytes(78)
    start, table, body = 132 + 12 * len(tags), b"", b""
    for name, data in tags.items():
        table += struct.pack(">4sII", name, start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(">I4xI4s4s4s", start + len(body), 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H4s28x3i", 2020, 1, 1, 0, 0, 0, b"acsp", 63190, 65536, 54061)
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body
