// Package demo writes a synthetic night whose truth is known: calibration
// frames and subs as FITS files, and a truth.json beside them.
//
// The model, in electrons per pixel, each frame with its own seeded noise:
//
//	signal = flat × exposure × (sky + nebula + stars) + exposure × dark rate + particle hits
//	stored = converter steps of (offset + fixed pattern + row noise + read noise + Poisson(signal) / gain)
//
// Poisson noise is exact below 50 electrons and a normal deviate with the
// skewness corrected above. The dark rate follows Arrhenius' law (Widenhorn et
// al. 2002). Star counts rise as 10^(0.3 magnitude) and star images are Moffat
// profiles with exponent 3.5 (Moffat 1969), integrated over square pixels,
// spread by defocus (a ring-shaped pupil) and by a trail where the scenario
// says so. The Sun, the Moon and the air mass come from the ephemeris for the
// time and the site that the headers name; the brightness that the Sun adds in
// twilight is a straight line in magnitudes (see twilightNL).
//
// Not modelled: refraction and distortion of the field, diffraction spikes,
// galaxies, scintillation, nonlinearity, image lag.
//
// The camera, its figures and the target are invented. Pixel centres are at
// integers, the first pixel is 0,0, x runs right and y up the rows as stored.
package demo
