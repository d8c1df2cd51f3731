package report

import "fitsqa/internal/catalogue"

// method says how a figure is made and where that is published.
type method struct{ Term, Text, Source string }

// methods are the notes at the end of the page. A source marked "from memory"
// could not be read again when this was written.
var methods = []method{
	{"FWHM", "Full width at half maximum of an elliptical Moffat profile fitted to unsaturated, isolated stars of good signal; the median over the field.",
		"Moffat 1969, A&A 3, 455 (from memory)"},
	{"HFD", "Half-flux diameter: twice the radius that holds half a star's flux. It stays meaningful for stars out of focus.", "Common practice, no source"},
	{"Ellipticity, angle, coherence", "Ellipticity is 1 - b/a. Coherence is the length of the mean ellipticity vector (e cos 2θ, e sin 2θ) over the mean ellipticity: near 1, all stars are drawn out one way, by tracking or wind; near 0, by the optics. Angles run counter-clockwise from +x.",
		"Identities of spin-2 vectors"},
	{"Transparency", "Flux of matched stars over that of the group's clear reference, one zero point a sub, solved over all subs together; 1 is the best of the night. Where a target shows fewer than 40 stars, those of subs that show too few are sought in their pixels: at the shift at which all of them together are brightest, each summed in an aperture, found or not.", "Common practice, no source"},
	{"Place on the sky", "Fours of stars are known again by the distances between them, and an affine map in the tangent plane is fitted to all stars that are the catalogue's; it is believed when chance would bring as much less than once in ten million. " + catalogue.Credit,
		"Gnomonic projection: Calabretta and Greisen 2002, A&A 395, 1077"},
	{"Zero point, magnitudes", "The magnitude of a star that gives one electron a second (one ADU a second while the gain is not known), by a robust mean over unsaturated catalogue stars. Magnitudes are V_T whatever the filter: through another, an offset for the stars' mean colour is in them, the same for all nights of a set-up. A sky is good to 0.15 mag per square arcsec through a broad filter and 0.25 through a narrow one. The limiting magnitude is that of a star of 5 sigma under a matched filter.",
		"Høg et al. 2000, A&A 355, L27; King 1983, PASP 95, 163 (from memory)"},
	{"Extinction", "Slope of the loss of light, in magnitudes, against airmass, over the clear subs of one filter and night: those on the upper edge of the transparency, since cloud only dims. Haze that grows or clears meanwhile is part of it.", "First-order extinction of photometry; Rousseeuw 1984, JASA 79, 871, for the edge (from memory)"},
	{"Dither, drift, field rotation", "From the shifts and turns between subs: the median of slopes, and the rms distance from it. The turn bounds the error of the polar axis from below: rate × cos(declination) over the 15.04°/h of the sky.", "Sen 1968, JASA 63, 1379 for the slopes; the geometry is derived, Hook 1989, JBAA 99, 19 (from memory)"},
	{"Weight, clear hours", "Weight is the sub's share in the best linear stack for faint extended light, (transparency / noise)², 1 for the group's best. Clear hours are the sum of exposure times weight.", "Minimum-variance weighting, a mathematical identity"},
	{"Stack economics", "Signal to noise of a plain average, of one of subs scaled to one transparency and of a weighted one as the worst subs are dropped one by one, relative to the plain average of all; and the width of its stars, the average of theirs, taken to be registered without loss: interpolation widens stars, those under 2 px by up to a fifth.", "The CCD equation: Merline and Howell 1995, Exp. Astron. 6, 163 (form from memory)"},
	{"Read noise", "Standard deviation of the difference of adjacent bias frames over √2, clipped at 5 sigma; the quantisation step²/12 is taken out in quadrature.",
		"Howell, Handbook of CCD Astronomy, 2nd ed., 4.3; Janesick 2001 for quantisation"},
	{"Gain", "Two flats and two biases at each level, and the slope of variance against level up to 70 % of saturation.",
		"Howell, 4.3; EMVA Standard 1288 for the slope (from memory)"},
	{"Dark current, hot pixels", "Dark minus matching bias over exposure; the median pixel and the mean. A hot pixel stands above the median by more than five robust sigma and by more than its own shot noise needs, in most frames of its set.",
		"Widenhorn et al. 2002, Proc. SPIE 4669 (from memory), for the law with temperature"},
	{"Are darks worth it?", "Noise of the finished stack in electrons per pixel, with and without darks and dither: sky, dark current, read noise, pattern left over, noise that the master dark adds.",
		"Independent noise adds in quadrature; the sums are verified by simulated stacks"},
	{"Sun, Moon, airmass", "Altitudes are geometric; the Moon's is topocentric. Airmass after Kasten and Young.", "Meeus, Astronomical Algorithms, 2nd ed.; Kasten and Young 1989, Appl. Opt. 28, 4735 (from memory)"},
	{"Pictures", "Blocks of pixels averaged, then an asinh stretch with one black point and scale per group, so that subs of a group compare. Corners and centre are at full resolution with a stretch of their own.",
		"Lupton et al. 2004, PASP 116, 133 (from memory)"},
}
