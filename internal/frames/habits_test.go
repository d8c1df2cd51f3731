package frames

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// habit is one way in which headers are written, and what it means. Fields at their
// zero value are not looked at.
type habit struct {
	what   string
	cards  []string
	kind   Kind
	start  string  // UTC
	zoned  bool    // the header settles that it is UTC
	zone   float64 // h, of a card
	expo   float64 // s
	temp   float64 // °C
	scale  float64 // arcsec/px
	lat    float64
	lon    float64
	signed bool // the header settles the longitude's sign
	target string
	ha     float64 // degrees
	alt    float64
	lst    float64
}

const night17 = "2021-09-17T09:38:50"

// Written after the FITS Standard 4.0 (sections 4.4.2, 8 and 9), the paper on time
// in FITS (Rots et al. 2015, A&A 574, A36) and, where neither tells, common practice,
// no source.
var habits = []habit{
	// Dates and clocks.
	{what: "ISO 8601", cards: []string{"DATE-OBS= '2021-09-17T09:38:50'"}, start: night17},
	{what: "ISO 8601 with a fraction", cards: []string{"DATE-OBS= '2021-09-17T09:38:50.250'"}, start: "2021-09-17T09:38:50.25"},
	{what: "a fraction behind a comma", cards: []string{"DATE-OBS= '2021-09-17T09:38:50,25'"}, start: "2021-09-17T09:38:50.25"},
	{what: "a blank before T", cards: []string{"DATE-OBS= '2021-09-17 T09:38:50'"}, start: night17},
	{what: "a blank after T", cards: []string{"DATE-OBS= '2021-09-17T 9:38:50'"}, start: night17},
	{what: "a blank in place of T", cards: []string{"DATE-OBS= '2021-09-17 09:38:50'"}, start: night17},
	{what: "an underscore in place of T", cards: []string{"DATE-OBS= '2021-09-17_09:38:50'"}, start: night17},
	{what: "twelve hours, morning", cards: []string{"DATE-OBS= '2021-09-17 9:38:50 AM'"}, start: night17},
	{what: "twelve hours, evening", cards: []string{"DATE-OBS= '09/17/2021 9:38:50 PM'"}, start: "2021-09-17T21:38:50"},
	{what: "twelve hours, after midnight", cards: []string{"DATE-OBS= '2021-09-17', ", "TIME-OBS= '12:05:00 a.m.'"}, start: "2021-09-17T00:05:00"},
	{what: "no colons", cards: []string{"DATE-OBS= '20210917T093850'"}, start: night17},
	{what: "digits and an underscore", cards: []string{"DATE-OBS= '20210917_093850'"}, start: night17},
	{what: "as C writes it", cards: []string{"DATE-OBS= 'Fri Sep 17 09:38:50 2021'"}, start: night17},
	{what: "as C writes it, with a zone", cards: []string{"DATE-OBS= 'Fri Sep 17 09:38:50 UTC 2021'"}, start: night17, zoned: true},
	{what: "time first", cards: []string{"DATE-OBS= '09:38:50 17/09/2021'"}, start: night17},
	{what: "no seconds", cards: []string{"DATE-OBS= '2021-09-17T09:38'"}, start: "2021-09-17T09:38:00"},
	{what: "a fraction of the day", cards: []string{"DATE-OBS= '2021-09-17.40197'"}, start: "2021-09-17T09:38:50.208"},
	{what: "slashes, year first", cards: []string{"DATE-OBS= '2021/09/17'", "UT      = '09:38:50'"}, start: night17, zoned: true},
	{what: "legacy date of the last century", cards: []string{"DATE-OBS= '17/09/91'", "TIME-OBS= '09:38:50'"}, start: "1991-09-17T09:38:50"},
	{what: "legacy form in this century", cards: []string{"DATE-OBS= '17/09/21'", "TIME-OBS= '09:38:50'"}, start: night17},
	{what: "two digits of the year, ISO order", cards: []string{"DATE-OBS= '21-09-17T09:38:50'"}, start: night17},
	{what: "points and day first", cards: []string{"DATE-OBS= '17.09.2021 09:38:50'"}, start: night17},
	{what: "month by name", cards: []string{"DATE-OBS= '17-Sep-2021 09:38:50'"}, start: night17},
	{what: "month by name, first", cards: []string{"DATE-OBS= 'Sep 17, 2021 09:38:50'"}, start: night17},
	{what: "day of the week", cards: []string{"DATE-OBS= 'Fri 17 Sep 2021 09:38:50'"}, start: night17},
	{what: "Z", cards: []string{"DATE-OBS= '2021-09-17T09:38:50Z'"}, start: night17, zoned: true},
	{what: "UTC behind it", cards: []string{"DATE-OBS= '2021-09-17T09:38:50 UTC'"}, start: night17, zoned: true},
	{what: "zone -0700", cards: []string{"DATE-OBS= '2021-09-17T02:38:50-0700'"}, start: night17, zoned: true},
	{what: "zone +05:30", cards: []string{"DATE-OBS= '2021-09-17T15:08:50+05:30'"}, start: night17, zoned: true},
	{what: "zone -07 behind a fraction", cards: []string{"DATE-OBS= '2021-09-17T02:38:50.000-07'"}, start: night17, zoned: true},
	{what: "zone over midnight", cards: []string{"DATE-OBS= '2021-09-16T23:38:50-1000'"}, start: night17, zoned: true},
	{what: "date and seconds of the day", cards: []string{"DATE-OBS= '2021-09-17'", "UT      = 34730.0"}, start: night17},
	{what: "date and hours", cards: []string{"DATE-OBS= '2021-09-17'", "UT      = 9.647222222"}, start: night17},
	{what: "DATE-BEG", cards: []string{"DATE-BEG= '2021-09-17T09:38:50'"}, start: night17},
	{what: "DATE-AVG", cards: []string{"DATE-AVG= '2021-09-17T09:39:50'", "EXPTIME = 120"}, start: night17, expo: 120},
	{what: "DATE-END", cards: []string{"DATE-END= '2021-09-17T09:40:50'", "EXPTIME = 120"}, start: night17, expo: 120},
	{what: "MJD-OBS", cards: []string{"MJD-OBS = 59474.40196759"}, start: night17},
	{what: "JD", cards: []string{"JD      = 2459474.90196759"}, start: night17},
	{what: "atomic time", cards: []string{"DATE-OBS= '2021-09-17T09:39:27'", "TIMESYS = 'TAI'"}, start: night17},
	{what: "terrestrial time", cards: []string{"DATE-OBS= '2021-09-17T09:39:59.184'", "TIMESYS = 'TT(TAI)'"}, start: night17},
	{what: "local time, UTC beside it", cards: []string{"DATE-OBS= '2021-09-17T02:38:50'", "UT      = '09:38:50'"}, start: night17, zoned: true},
	{what: "local evening, UTC of the next day", cards: []string{"DATE-OBS= '2021-09-16T19:38:50'", "UTSTART = '02:38:50'"}, start: "2021-09-17T02:38:50", zoned: true},
	{what: "UTC, and UTC beside it", cards: []string{"DATE-OBS= '2021-09-17T09:38:50'", "UTC     = '09:38:50'"}, start: night17, zoned: true},
	{what: "local card with zone", cards: []string{"DATE-LOC= '2021-09-17T02:38:50'", "TIMEZONE= -7"}, start: night17, zone: -7},
	{what: "local comment with zone", cards: []string{"DATE-OBS= '2021-09-17T11:38:50' / local time", "TZ      = 'UTC+2'"}, start: night17, zone: 2},
	{what: "local card beside UTC", cards: []string{"DATE-OBS= '2021-09-17T09:38:50'", "DATE-LOC= '2021-09-17T02:38:50'"}, start: night17},
	{what: "zone in minutes", cards: []string{"DATE-OBS= '2021-09-17T09:38:50'", "UTCOFFS = -420"}, start: night17, zone: -7},
	{what: "zone in seconds", cards: []string{"TZOFFSET= 19800", "DATE-OBS= '2021-09-17T09:38:50'"}, start: night17, zone: 5.5},

	{what: "hours, minutes and seconds by letters", cards: []string{"DATE-OBS= '2021-09-17 09h38m50s'"}, start: night17},
	{what: "hyphens in the time", cards: []string{"DATE-OBS= '2021-09-17T09-38-50'"}, start: night17},
	{what: "hyphens in the time, few seconds", cards: []string{"DATE-OBS= '2021-09-17T09-38-05'"}, start: "2021-09-17T09:38:05"},
	{what: "points in a time of its own", cards: []string{"DATE-OBS= '2021-09-17'", "TIME-OBS= '09.38.50'"}, start: night17},
	{what: "blanks in a time of its own", cards: []string{"DATE-OBS= '2021-09-17'", "UTSTART = '09 38 50.5'"}, start: "2021-09-17T09:38:50.5", zoned: true},
	{what: "letters in a time of its own", cards: []string{"DATE-OBS= '2021-09-17'", "UT      = '9h38m50s'"}, start: night17, zoned: true},
	{what: "colons in the date", cards: []string{"DATE-OBS= '2021:09:17 09:38:50'"}, start: night17},
	{what: "day of the year", cards: []string{"DATE-OBS= '2021-260T09:38:50'"}, start: night17},
	{what: "points and two digits of the year", cards: []string{"DATE-OBS= '17.09.21 09:38:50'"}, start: night17},
	{what: "month first beside twelve hours", cards: []string{"DATE-OBS= '9/7/2021 9:38:50 PM'"}, start: "2021-09-07T21:38:50"},
	{what: "day first beside 24 hours", cards: []string{"DATE-OBS= '7/9/2021 21:38:50'"}, start: "2021-09-07T21:38:50"},
	{what: "zone by name", cards: []string{"DATE-OBS= '2021-09-17T02:38:50 PDT'"}, start: night17, zoned: true},
	{what: "zone by name, summer time", cards: []string{"DATE-OBS= '17.09.2021 11:38:50 MESZ'"}, start: night17, zoned: true},
	{what: "zone in brackets", cards: []string{"DATE-OBS= '2021-09-17T02:38:50 (UTC-7)'"}, start: night17, zoned: true},
	{what: "a zone's name that is several, and a card", cards: []string{"DATE-OBS= '2021-09-17T03:38:50 CST'", "TIMEZONE= -6"}, start: night17, zone: -6},
	{what: "UT in the keywords", cards: []string{"UT-DATE = '2021-09-17'", "UT-TIME = '09:38:50'"}, start: night17, zoned: true},
	{what: "UT in the keyword of both", cards: []string{"DATE_UT = '2021-09-17T09:38:50'"}, start: night17, zoned: true},
	{what: "other order of the words", cards: []string{"OBSDATE = '2021-09-17'", "OBSTIME = '09:38:50'"}, start: night17},
	{what: "the end by the comment", cards: []string{"DATE-OBS= '2021-09-17T09:40:50' / UTC at end of exposure", "EXPTIME = 120"}, start: night17, expo: 120},
	{what: "the middle by the comment", cards: []string{"DATE-OBS= '2021-09-17T09:39:50' / midpoint", "EXPTIME = 120"}, start: night17, expo: 120},
	{what: "MJD of the middle", cards: []string{"MJD-AVG = 59474.40266204", "EXPTIME = 120"}, start: night17, expo: 120},
	{what: "zone west positive by the comment", cards: []string{"DATE-LOC= '2021-09-17T02:38:50'", "TIMEZONE= 7 / hours west of Greenwich"}, start: night17, zone: -7},
	{what: "zone east positive by the comment", cards: []string{"DATE-LOC= '2021-09-17T16:38:50'", "TIMEZONE= 7 / hours, east positive"}, start: night17, zone: 7},
	{what: "local, no zone, a site in the west", cards: []string{"DATE-LOC= '2021-09-17T02:38:50'", "SITELAT = 32.42", "SITELONG= -110.88"}, start: night17, lat: 32.42, lon: -110.88},
	{what: "local by TIMESYS, a site in the east", cards: []string{"DATE-OBS= '2021-09-17T19:38:50'", "TIMESYS = 'LOCAL'", "SITELAT = 32.42", "SITELONG= 151.2"}, start: night17, lat: 32.42, lon: 151.2},
	{what: "local by TIMESYS, no zone, no site", cards: []string{"DATE-OBS= '2021-09-17T09:38:50'", "TIMESYS = 'LOCAL'"}, start: night17},
	{what: "local by TIMESYS", cards: []string{"DATE-OBS= '2021-09-17T02:38:50'", "TIMESYS = 'LOCAL'", "TIMEZONE= -7"}, start: night17, zone: -7},

	// Kinds and exposures.
	{what: "exchanged letters in the key", cards: []string{"IMAGETPY= 'Dark Frame'"}, kind: Dark},
	{what: "a doubled letter in the key", cards: []string{"FRAMETTYP= 'Flat'"}, kind: Flat},
	{what: "a key of ten letters", cards: []string{"IMAGE_TYPE= 'Bias'"}, kind: Bias},
	{what: "a number that is no kind", cards: []string{"TYPE    = 2", "IMAGETYP= 'Light'"}, kind: Light},
	{what: "twilight", cards: []string{"OBSTYPE = 'TWILIGHT'"}, kind: Flat},
	{what: "kind in the target's place", cards: []string{"OBJECT  = 'Dome Flat'", "OBSTYPE = 'OBJECT'"}, kind: Flat},
	{what: "kind in the target's place alone", cards: []string{"OBJECT  = 'bias'"}, kind: Bias},
	{what: "a dark nebula is a target", cards: []string{"OBJECT  = 'Dark Nebula 33'", "IMAGETYP= 'Light'"}, kind: Light, target: "Dark Nebula 33"},
	{what: "exposure in ms by the comment", cards: []string{"EXPTIME = 60000 / exposure in milliseconds"}, expo: 60},
	{what: "exposure in µs by the comment", cards: []string{"EXPTIME = 60000000 / exposure (microseconds)"}, expo: 60},
	{what: "exposure in s by the comment", cards: []string{"EXPTIME = 60 / [s] minutes are given in EXPMIN"}, expo: 60},
	{what: "exposure beside a 0", cards: []string{"EXPTIME = 0", "EXPOSURE= 60"}, expo: 60},
	{what: "XPOSURE of the standard", cards: []string{"XPOSURE = 59.5"}, expo: 59.5},
	{what: "minutes", cards: []string{"EXPTIME = '1.5m'"}, expo: 90},
	{what: "light in capitals", cards: []string{"IMAGETYP= 'LIGHT'", "EXPTIME = 300.0"}, kind: Light, expo: 300},
	{what: "light frame", cards: []string{"IMAGETYP= 'Light Frame'", "EXPOSURE= 300"}, kind: Light, expo: 300},
	{what: "object", cards: []string{"OBSTYPE = 'OBJECT'", "EXPTIME = '300'"}, kind: Light, expo: 300},
	{what: "bias by zero", cards: []string{"IMAGETYP= 'zero'", "EXPTIME = 0."}, kind: Bias},
	{what: "dark by number", cards: []string{"PICTTYPE= 3", "EXPTIME = 60"}, kind: Dark, expo: 60},
	{what: "sky flat", cards: []string{"IMAGETYP= 'SKY FLAT'", "EXPTIME = 2,5"}, kind: Flat, expo: 2.5},
	{what: "misspelt kind", cards: []string{"IMAGTYP = 'Dark Frame'", "EXPTME  = 90"}, kind: Dark, expo: 90},
	{what: "exposure in ms", cards: []string{"EXPMSEC = 2500"}, expo: 2.5},
	{what: "exposure with its unit", cards: []string{"EXPTIME = '5 min'"}, expo: 300},
	{what: "Fortran exponent", cards: []string{"EXPTIME = 3.0D2"}, expo: 300},

	// Temperatures.
	{what: "sensor temperature", cards: []string{"CCD-TEMP= -10.2"}, temp: -10.2},
	{what: "temperature with unit", cards: []string{"CCDTEMP = '-10.2 C'"}, temp: -10.2},
	{what: "kelvin", cards: []string{"DET-TEMP= 263.15"}, temp: -10},
	{what: "fahrenheit", cards: []string{"CCD-TEMP= '14 F'"}, temp: -10},
	{what: "decimal comma", cards: []string{"CCD-TEMP= '-10,2'"}, temp: -10.2},

	{what: "fahrenheit by the bracket", cards: []string{"CCD-TEMP= 14.0 / [degF]"}, temp: -10},
	{what: "fahrenheit by the comment", cards: []string{"CCD-TEMP= 14 / degrees Fahrenheit"}, temp: -10},
	{what: "kelvin by the comment", cards: []string{"CCD-TEMP= 90 / Kelvin"}, temp: -183.15},
	{what: "sensor by another name", cards: []string{"SENSOR-T= -10.2"}, temp: -10.2},

	// Pixel scales.
	{what: "scale in degrees", cards: []string{"PIXSCALE= 2.155555E-4 / [deg/pix]"}, scale: 0.776},
	{what: "scale of two axes", cards: []string{"SECPIX  = '0.776 0.776'"}, scale: 0.776},
	{what: "scale with the sign of its axis", cards: []string{"SECPIX1 = -0.776"}, scale: 0.776},
	{what: "plate scale per mm", cards: []string{"PLTSCALE= 206.2648 / arcsec per mm", "XPIXSZ  = 3.76"}, scale: 0.7755557},
	{what: "a scale of another thing", cards: []string{"SCALE   = 1.0"}, scale: math.NaN()},
	{what: "focal length in cm by the comment", cards: []string{"XPIXSZ  = 3.76", "FOCALLEN= 100 / focal length in cm"}, scale: 0.7755557},
	{what: "a key of ten letters", cards: []string{"PIXELSCALE= 0.776"}, scale: 0.776},
	{what: "scale by optics", cards: []string{"XPIXSZ  = 3.76", "FOCALLEN= 1000"}, scale: 0.7755557},
	{what: "scale card", cards: []string{"SECPIX  = 0.776"}, scale: 0.776},
	{what: "scale card of one axis", cards: []string{"PIXSCAL1= 0.776"}, scale: 0.776},
	{what: "scale card, other name", cards: []string{"SCALE   = '0.776 arcsec'"}, scale: 0.776},
	{what: "CD matrix", cards: []string{"CTYPE1  = 'RA---TAN'", "CD1_1   = -1.5E-4", "CD1_2   = 1.5E-4", "CD2_1   = 1.5E-4", "CD2_2   = 1.5E-4"}, scale: 0.7636753},
	{what: "CD matrix without its diagonal", cards: []string{"CTYPE1  = 'DEC--TAN'", "CD1_2   = 2E-4", "CD2_1   = 2E-4"}, scale: 0.72},
	{what: "CDELT", cards: []string{"CTYPE1  = 'RA---TAN'", "CDELT1  = -2E-4", "CDELT2  = 2E-4"}, scale: 0.72},
	{what: "CDELT in arcsec", cards: []string{"CTYPE1  = 'RA---TAN'", "CUNIT1  = 'arcsec'", "CDELT1  = -0.72", "CDELT2  = 0.72"}, scale: 0.72},
	{what: "CDELT of pixels", cards: []string{"CTYPE1  = 'PIXEL'", "CDELT1  = 0.001", "CDELT2  = 0.001"}, scale: math.NaN()},

	// Sites.
	{what: "decimal site", cards: []string{"SITELAT = 32.42", "SITELONG= -110.88"}, lat: 32.42, lon: -110.88},
	{what: "colons", cards: []string{"LAT-OBS = '+32:25:12'", "LONG-OBS= '-110:52:48'"}, lat: 32.42, lon: -110.88},
	{what: "blanks", cards: []string{"SITELAT = '32 25 12'", "SITELONG= '-110 52 48'"}, lat: 32.42, lon: -110.88},
	{what: "letters behind", cards: []string{"SITELAT = '32.42 N'", "SITELONG= '110.88 W'"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "letters before", cards: []string{"LATITUDE= 'N 32 25 12'", "LONGITUD= 'W 110 52 48'"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "letters behind seconds", cards: []string{"SITELAT = '32d25m12s S'", "SITELONG= '110d52m48s E'"}, lat: -32.42, lon: 110.88, signed: true},
	{what: "words", cards: []string{"SITELAT = '32.42 South'", "SITELONG= '110.88 deg West'"}, lat: -32.42, lon: -110.88, signed: true},
	{what: "degrees and minutes", cards: []string{"SITELAT = '32d 25.2m'", "SITELONG= '-110d 52.8m'"}, lat: 32.42, lon: -110.88},
	{what: "degrees and minutes by words", cards: []string{"SITELAT = '32 deg 25.2 min'", "SITELONG= '-110 deg 52.8 min'"}, lat: 32.42, lon: -110.88},
	{what: "signs of degrees", cards: []string{"SITELAT = '32°25''12\"'", "SITELONG= '110°52''48\" W'"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "stars as signs of degrees", cards: []string{"SITELAT = '+32*25''12'", "SITELONG= '110*52''48 W'"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "west positive by the comment", cards: []string{"SITELAT = 32.42", "LONGITUD= 110.88 / [deg] west positive"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "west positive, otherwise worded", cards: []string{"SITELAT = 32.42", "LONGITUD= 110.88 / longitude, degrees, positive west"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "east positive by the comment", cards: []string{"SITELAT = 32.42", "LONGITUD= -110.88 / east is positive"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "west positive, nothing said", cards: []string{"SITELAT = 32.42", "LONGITUD= 110.88"}, lat: 32.42, lon: 110.88},
	{what: "longitude to 360", cards: []string{"SITELAT = 32.42", "SITELONG= 249.12"}, lat: 32.42, lon: -110.88},
	{what: "geodetic cards of the standard", cards: []string{"OBSGEO-B= 32.42", "OBSGEO-L= -110.88"}, lat: 32.42, lon: -110.88, signed: true},

	// Of 2510 m by the formulas of the ellipsoid of WGS 84, from memory: p = (n + h) cos lat, z = (n (1 - e2) + h) sin lat.
	{what: "geocentric cards of the standard", cards: []string{"OBSGEO-X= -1921541.897", "OBSGEO-Y= -5037296.218", "OBSGEO-Z= 3401183.284"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "radians", cards: []string{"SITELAT = 0.5658357 / [rad]", "SITELONG= -1.9352211 / [rad]"}, lat: 32.42, lon: -110.88},
	{what: "longitude in hours", cards: []string{"SITELAT = 32.42", "SITELONG= '-07:23:31.2' / [h]"}, lat: 32.42, lon: -110.88},
	{what: "west by a letter in the comment", cards: []string{"SITELAT = 32.42", "SITELONG= 110.88 / longitude (W)"}, lat: 32.42, lon: -110.88},
	{what: "west by the comment, and a sign", cards: []string{"SITELAT = 32.42", "SITELONG= -110.88 / degrees West"}, lat: 32.42, lon: -110.88},
	{what: "negative is west", cards: []string{"SITELAT = 32.42", "SITELONG= -110.88 / negative = west"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "west in another language", cards: []string{"SITELAT = 32.42", "SITELONG= '110 52 48 Ouest'"}, lat: 32.42, lon: -110.88, signed: true},
	{what: "site by a receiver", cards: []string{"GPS-LAT = 32.42", "GPS-LON = -110.88"}, lat: 32.42, lon: -110.88},

	// Targets and where they stood.
	{what: "no target", cards: []string{"OBJECT  = 'None'", "TGTNAME = 'Heron Nebula'"}, target: "Heron Nebula"},
	{what: "OBJECT", cards: []string{"OBJECT  = 'Heron Nebula'"}, target: "Heron Nebula"},
	{what: "OBJNAME", cards: []string{"OBJECT  = ''", "OBJNAME = 'Heron Nebula'"}, target: "Heron Nebula"},
	{what: "hour angle in hours", cards: []string{"HA      = '-01:30:00'"}, ha: -22.5},
	{what: "hour angle with a letter", cards: []string{"OBJCTHA = '1.5 W'"}, ha: 22.5},
	{what: "hour angle beyond twelve", cards: []string{"HA      = '22:30:00'"}, ha: -22.5},
	{what: "hour angle in degrees", cards: []string{"HA      = -22.5 / [deg]"}, ha: -22.5},
	{what: "altitude of the target", cards: []string{"OBJCTALT= '55 30 00'"}, alt: 55.5},
	{what: "altitude of the site is none", cards: []string{"ALTITUDE= 55 / [m] site above sea level"}, alt: math.NaN()},
	{what: "sidereal time", cards: []string{"LST     = '03:00:00'"}, lst: 45},
}

func TestHeaderHabits(t *testing.T) {
	if len(habits) < 60 {
		t.Errorf("only %d habits", len(habits))
	}
	for _, h := range habits {
		t.Run(h.what, func(t *testing.T) {
			f := scanBytes(t, "x.fits", twoByTwo(h.cards...))
			if f.Err != nil {
				t.Fatal(f.Err)
			}
			m := f.Meta
			near := func(name string, got, want float64) {
				if want != 0 && !(math.Abs(got-want) <= 1e-6*(1+math.Abs(want))) && !(math.IsNaN(got) && math.IsNaN(want)) {
					t.Errorf("%s %v, want %v (%v)", name, got, want, f.Findings)
				}
			}
			if h.kind != Unknown && f.Kind != h.kind {
				t.Errorf("kind %q, want %q", f.Kind, h.kind)
			}
			if h.start != "" {
				want, err := time.Parse("2006-01-02T15:04:05.999", h.start)
				if err != nil || m.Start.Sub(want).Abs() > time.Millisecond || m.StartZoned != h.zoned {
					t.Errorf("start %v, zoned %v, want %v, %v (%v)", m.Start, m.StartZoned, want, h.zoned, f.Findings)
				}
			}
			near("zone", m.Zone, h.zone)
			near("exposure", m.Exposure, h.expo)
			near("temperature", m.SensorTemp, h.temp)
			near("scale", m.PixelScale(), h.scale)
			near("latitude", m.SiteLat, h.lat)
			near("longitude", m.SiteLon, h.lon)
			near("hour angle", m.HourAngle, h.ha)
			near("altitude", m.Altitude, h.alt)
			near("sidereal time", m.Sidereal, h.lst)
			if h.lon != 0 && m.LonSettled != h.signed {
				t.Errorf("sign of the longitude settled: %v, want %v", m.LonSettled, h.signed)
			}
			if h.target != "" && string(m.Target) != h.target {
				t.Errorf("target %q, want %q", m.Target, h.target)
			}
		})
	}
}

// A random time written in any of many forms is that time again.
func TestMomentForms(t *testing.T) {
	forms := []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02 T15:04:05", "20060102T150405", "02.01.2006 15:04:05",
		"2006/01/02 3:04:05 PM", "02-Jan-2006 15:04:05", "Jan 2, 2006 03:04:05 pm", "06-01-02T15:04:05", "2006-01-02T15:04:05-07:00", "2006-01-02T15:04:05 -0700"}
	for i := range 400 {
		at := time.Date(2013+i%17, time.Month(1+i%12), 13+i%16, i%24, (7*i)%60, (11*i)%60, 0, time.FixedZone("", 3600*(i%25-12)))
		form := forms[i%len(forms)]
		want := at.UTC()
		if i%len(forms) < len(forms)-2 {
			at = want
		}
		m, ok := parseMoment(at.Format(form))
		if !ok || !m.timed || !m.t.Equal(want) {
			t.Errorf("%q is %v (%v), want %v", at.Format(form), m.t, ok, want)
		}
	}
	for _, bad := range []string{"", "yesterday", "2021-13-40T00:00:00", "2021-09-17T25:70:00", "17", "2021-09-17T09:38:50 XM", fmt.Sprint(1e30)} {
		if m, ok := parseMoment(bad); ok && m.timed {
			t.Errorf("%q is %v", bad, m.t)
		}
	}
}
