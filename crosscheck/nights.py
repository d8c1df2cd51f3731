"""A year of nights at five sites by astropy: nights.json.

For every eighth night: when the Sun's centre passes -0.8333 and -18 degrees
(geometric), when the Moon's centre rises and sets (0 degrees, topocentric),
when a target crosses the meridian, and where Moon and target stand at the
middle of the night. Altitudes on a grid of five minutes, crossings by linear
interpolation, which is good to a second where a body moves by 15 degrees an
hour. Nothing is fetched.
"""

import os
import warnings

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_moon, get_sun, solar_system_ephemeris
from astropy.time import Time
from astropy.utils import iers

import reference

iers.conf.auto_download = False
iers.conf.iers_degraded_accuracy = "ignore"
warnings.simplefilter("ignore")

SITES = [(51.5, -0.1, 50), (-33.9, 18.4, 100), (19.8, -155.5, 4100), (64.1, -21.9, 30), (1.3, 103.8, 10)]
TARGET = (83.82, -5.39)  # degrees, J2000
STEP = 5 * u.min


def crossings(times, alt, level):
    """Times at which alt passes level, rising (+1) or falling (-1)."""
    above = alt > level
    out = []
    for i in np.nonzero(above[1:] != above[:-1])[0]:
        share = (level - alt[i]) / (alt[i + 1] - alt[i])
        at = times[i] + share * (times[i + 1] - times[i])
        out.append({"utc": Time(at, precision=0).isot + "Z", "rising": bool(above[i + 1])})
    return out


def night(site, noon):
    lat, lon, height = site
    place = EarthLocation(lat=lat * u.deg, lon=lon * u.deg, height=height * u.m)
    times = noon + np.arange(0, 24 * 60 + 1, 5) * u.min
    frame = AltAz(obstime=times, location=place)
    sun = get_sun(times).transform_to(frame).alt.deg
    moon = get_moon(times, place).transform_to(frame)
    star = SkyCoord(*TARGET, unit="deg").transform_to(frame)
    middle = len(times) // 2
    east = ((star.az.deg + 180) % 360) - 180  # changes sign at the meridian, either side of the zenith
    upper = np.nonzero((np.sign(east[1:]) != np.sign(east[:-1])) & (star.alt.deg[1:] > np.degrees(np.arcsin(np.sin(np.radians(lat)) * np.sin(np.radians(TARGET[1]))))))[0]
    transits = []
    for i in upper:
        a, b = np.sin(np.radians(east[i])), np.sin(np.radians(east[i + 1]))
        transits.append(Time(times[i] + a / (a - b) * (times[i + 1] - times[i]), precision=0).isot + "Z")
    return {
        "lat": lat, "lon": lon, "elevation_m": height,
        "noon_utc": Time(noon, precision=0).isot + "Z",
        "sunset": crossings(times, sun, -0.8333),
        "dark": crossings(times, sun, -18),
        "moon": crossings(times, moon.alt.deg, 0),
        "transits": transits,
        "middle_utc": Time(times[middle], precision=0).isot + "Z",
        "moon_alt": round(float(moon.alt.deg[middle]), 4),
        "target_alt": round(float(star.alt.deg[middle]), 4),
        "moon_separation": round(float(SkyCoord(moon.az[middle], moon.alt[middle]).separation(SkyCoord(star.az[middle], star.alt[middle])).deg), 4),
    }


if __name__ == "__main__":
    args = reference.options(__doc__)
    nights = []
    with solar_system_ephemeris.set("builtin"):
        for site in SITES:
            for day in range(0, 365, 8):
                noon = Time("2026-01-01T12:00:00", scale="utc") + day * u.day - site[1] / 15 * u.hour
                nights.append(night(site, Time(noon.isot.split(".")[0], scale="utc")))
    reference.write_json(os.path.join(args.out, "nights.json"), {"target": TARGET, "nights": nights}, reference.made_by("astropy", "numpy"))
