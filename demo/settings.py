"""What can be chosen about the scanner and about one scan; every fault has its strength."""

from __future__ import annotations

from dataclasses import dataclass

from .geometry import Carriage, Placing

SIDES = ("left", "right", "top", "bottom")


@dataclass(frozen=True, kw_only=True)
class Crease:
    """The shadow of a folded edge, ``distance`` mm inside one side of the painting.

    The lamp stands on one side of the scan line, so one flank of the fold is
    darker by ``depth`` and the other brighter by ``bright``, both fading over
    ``reach`` mm.
    """

    side: str
    distance: float = 12.0
    depth: float = 0.25
    bright: float = 0.08
    reach: float = 2.0


@dataclass(frozen=True, kw_only=True)
class Lifted:
    """A zone that does not touch the glass, ``width`` mm wide along one side.

    At the very edge it is blurred by ``blur`` mm (standard deviation) and
    darker by the share ``dark``. With ``start`` the highest place is that many
    mm inside the side instead, as where a sheet lies over the rim of the glass.
    """

    side: str
    width: float = 25.0
    blur: float = 0.15
    dark: float = 0.12
    start: float = 0.0


@dataclass(frozen=True, kw_only=True)
class StripPlace:
    """A strip of the named layout lying on the glass.

    ``covered`` is the share of its length under plain paper, from its right
    end; ``stains`` counts spots of thin paint; ``curl`` is the height in mm to
    which its right end curls off the glass.
    """

    layout: str
    placing: Placing
    covered: float = 0.0
    stains: int = 0
    curl: float = 0.0


@dataclass(frozen=True, kw_only=True)
class ScannerModel:
    """What stays the same from scan to scan.

    Attributes
    ----------
    lamp, sensor : str
        Of `spectra.LAMPS` and `spectra.SENSORS`.
    glass : tuple of float
        Width and height of the scan, mm.
    ppi, bits : float, int
        Resolution and bits per channel (8 or 16).
    tone, gamma : str, float
        ``"linear"``, ``"power"``, ``"srgb"`` or ``"s-curve"``; gamma of the
        power law and of the S-curve's base.
    lid : str
        ``"white"`` or ``"black"``.
    bezel : float
        Reflectance of whatever lies beyond the scanned part of the glass.
    vignette, lateral_slope : float
        Loss of light at both ends of the lamp, and from its left to its right.
    tilt : float
        Change of light from the first scan line to the last.
    flare, cavity : float
        Share of the light taken from the surroundings instead of the spot;
        share of reflected light that comes back as lighting.
    flare_near, flare_far, flare_near_share : float
        Reaches in mm of the two scales of stray light; weight of the nearer.
    relief : float
        Change of light per unit slope of the surface towards the lamp.
    mottle : float
        Unevenness of the strip's print, standard deviation as a share.
    optics : float
        Blur of the optics, standard deviation in scan pixels.
    read_noise, shot_noise : float
        Standard deviation of the noise in the dark, and what the light adds
        at full scale, in linear light.
    banding, banding_period : float
        Amplitude of a periodic change of light from scan line to scan line, as
        a share; its period in mm.
    black : float
        Linear light that the driver's software writes as black.
    sharpen, sharpen_radius : float
        Amount of unsharp masking by the driver's software, on encoded values;
        standard deviation of its blur, scan pixels.
    stretch, wobble, period, lens : float
        See `geometry.Carriage`.
    """

    lamp: str = "white-led"
    sensor: str = "broad"
    glass: tuple[float, float] = (190.0, 215.0)
    ppi: float = 300.0
    bits: int = 16
    tone: str = "srgb"
    gamma: float = 2.2
    lid: str = "white"
    bezel: float = 0.08
    vignette: float = 0.0
    lateral_slope: float = 0.0
    tilt: float = 0.0
    flare: float = 0.02
    cavity: float = 0.03
    flare_near: float = 2.5
    flare_far: float = 30.0
    flare_near_share: float = 0.25
    relief: float = 0.2
    mottle: float = 0.004
    optics: float = 0.5
    read_noise: float = 0.0007
    shot_noise: float = 0.005
    banding: float = 0.0
    banding_period: float = 5.0
    black: float = 0.0
    sharpen: float = 0.0
    sharpen_radius: float = 1.0
    stretch: float = 1.0
    wobble: float = 0.0
    period: float = 31.0
    lens: float = 0.0

    def carriage(self, phase: float) -> Carriage:
        """Give the map from pixels to glass of a run that starts at ``phase``."""
        return Carriage(
            ppi=self.ppi,
            width=self.glass[0],
            stretch=self.stretch,
            wobble=self.wobble,
            period=self.period,
            phase=phase,
            lens=self.lens,
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of a scan."""
        width, height = self.glass
        return round(height * self.ppi / 25.4), round(width * self.ppi / 25.4)


@dataclass(frozen=True, kw_only=True)
class TileSettings:
    """What differs from scan to scan.

    Attributes
    ----------
    placing : Placing
        How the painting lies.
    strips : tuple of StripPlace
        The strips beside it.
    exposure, gains : float, tuple of float
        Linear value of the perfect diffuser, and red, green, blue gains on top.
    phase : float
        Phase of the carriage's wobble, radians.
    crease, lifted : Crease, Lifted or None
        Faults of the painting's edge.
    dust, hairs, streaks, glare : int
        How many of each.
    streak_depth : tuple of float
        Least and largest change of light in a streak, as a share.
    speck : float
        Size of the specks of glare; 1 is 0.04 to 0.15 mm.
    strips_under : bool
        Whether the strips lie under the painting's edge instead of over it.
    """

    placing: Placing
    strips: tuple[StripPlace, ...] = ()
    exposure: float = 0.88
    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    phase: float = 0.0
    crease: Crease | None = None
    lifted: Lifted | None = None
    dust: int = 0
    hairs: int = 0
    streaks: int = 0
    glare: int = 0
    streak_depth: tuple[float, float] = (0.01, 0.04)
    speck: float = 1.0
    strips_under: bool = False
