"""Sun, Moon and target by astropy at random sites and times: sky.json.

Geometric topocentric positions (no refraction) with astropy's built-in
ephemeris. Nothing is fetched: where the Earth-orientation table at hand does
not reach, UT1 is taken as UTC, an error below 0.004 degrees.
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


def cases():
    rng = np.random.default_rng(20240202)
    for _ in range(60):
        lat = float(np.degrees(np.arcsin(rng.uniform(-0.94, 0.94))))  # even over the sphere, up to 70 degrees
        day = Time("2010-01-01", scale="utc") + rng.uniform(0, 20 * 365.25) * u.day
        yield {
            "lat": round(lat, 4),
            "lon": round(rng.uniform(-180, 180), 4),
            "elevation_m": round(rng.uniform(0, 3000)),
            "utc": Time(day, precision=0).isot + "Z",
            "ra_deg": round(rng.uniform(0, 360), 4),
            "dec_deg": round(float(np.degrees(np.arcsin(rng.uniform(-1, 1)))), 4),
        }


def measure(c):
    site = EarthLocation(lat=c["lat"] * u.deg, lon=c["lon"] * u.deg, height=c["elevation_m"] * u.m)
    t = Time(c["utc"].rstrip("Z"), scale="utc")
    frame = AltAz(obstime=t, location=site)
    sun = get_sun(t).transform_to(frame)
    moon = get_moon(t, site).transform_to(frame)
    target = SkyCoord(c["ra_deg"] * u.deg, c["dec_deg"] * u.deg).transform_to(frame)
    # Lit fraction from the geocentre, as handbooks give it: Meeus, Astronomical Algorithms, chapter 48.
    sun0, moon0 = get_sun(t), get_moon(t)
    apart = sun0.separation(SkyCoord(moon0.ra, moon0.dec, frame=sun0.frame)).rad
    phase = np.arctan2(sun0.distance.km * np.sin(apart), moon0.distance.km - sun0.distance.km * np.cos(apart))
    return {
        **c,
        "sun_alt": round(float(sun.alt.deg), 6),
        "moon_alt": round(float(moon.alt.deg), 6),
        "moon_lit_pct": round(float(50 * (1 + np.cos(phase))), 5),
        "target_alt": round(float(target.alt.deg), 6),
        "target_az": round(float(target.az.deg), 6),
        "moon_separation": round(float(SkyCoord(moon.az, moon.alt).separation(SkyCoord(target.az, target.alt)).deg), 6),
    }


if __name__ == "__main__":
    args = reference.options(__doc__)
    with solar_system_ephemeris.set("builtin"):
        values = [measure(c) for c in cases()]
    reference.write_json(os.path.join(args.out, "sky.json"), {"cases": values}, reference.made_by("astropy", "numpy"))
