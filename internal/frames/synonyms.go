package frames

// Capture programs of twenty years have named the same things differently.
// This table lists, for every figure of Meta, the keywords that carry it, the
// best first: the first card with a usable value wins. To teach the program a
// new one, add it here. HIERARCH cards are listed by the words after HIERARCH.
// What the keywords mean is common practice among capture programs, no source,
// except where the FITS standard defines them (DATE-OBS, MJD-OBS, OBJECT,
// TELESCOP, INSTRUME, EXPOSURE-like keywords of its section 4.4.2 and 9).

// keyword is a name and what its number must be multiplied by to come out in
// the unit of Meta.
type keyword struct {
	name   string
	factor float64 // 0 means 1
}

// keys are keywords whose numbers need no factor.
func keys(list ...string) []keyword {
	ks := make([]keyword, len(list))
	for i, n := range list {
		ks[i] = keyword{name: n}
	}
	return ks
}

var synonyms = struct {
	kind, exposure, filter, target, camera, telescope      []keyword
	gain, iso, electronsPerADU, offset, readNoise          []keyword
	sensorTemp, setTemp, ambientTemp                       []keyword
	readoutMode                                            []keyword
	binX, binY, binBoth, pixelSize, pixelSizeUnbinned      []keyword
	focalLength, aperture, plateScale                      []keyword
	ra, dec, siteLat, siteLon, siteElevation               []keyword
	pierSide, rotator, skyAngle, focus, airmass, zeroPoint []keyword
	bayer, bayerX, bayerY, rowOrder                        []keyword
	dateTime, timeOfDay, mjdStart, jdStart                 []keyword
	localDate, localClock, utcClock, zone                  []keyword
	altitude, hourAngle, sidereal                          []keyword
	frameCount, sampleBits, pedestal                       []keyword
}{
	kind: keys("IMAGETYP", "IMAGETYPE", "IMGTYPE", "FRAMETYP", "FRAMETYPE", "FRAME", "OBSTYPE", "EXPTYPE", "IMTYPE",
		"IMAGTYP", "IMAGETY", "IMG_TYPE", "IMAGE_TYPE", "OBS-TYPE", "IMGTYP", "IMAGTYPE", "IMGETYP", "IMAGE-TY", "IMAGE_TY", "FRMTYPE", "FRAME-TY", "IMTYP", "CCDTYPE", "DATA-TYP", "OBS_TYPE", "PICTTYPE", "KIND", "TYPE", "ESO DPR TYPE"),
	exposure: append(keys("EXPTIME", "EXPOSURE", "EXP_TIME", "EXPOSURETIME", "EXP-TIME", "EXPTIM", "EXPOSUR", "EXPTME", "EXPOS", "EXPO", "EXP", "EXPOTIME", "TEXPTIME", "XPOSURE",
		"INTTIME", "ITIME", "INT_TIME", "INTEGRAT", "ONTIME", "SHUTTIME", "TM-EXPOS", "ESO DET WIN1 DIT1"),
		keyword{"EXPTIMMS", 1e-3}, keyword{"EXPMSEC", 1e-3}, keyword{"EXPOSMS", 1e-3}, keyword{"EXP_MS", 1e-3}, keyword{"EXP-MS", 1e-3}, keyword{"EXPOINUS", 1e-6},
		keyword{"EXPUSEC", 1e-6}, keyword{"DARKTIME", 1}),
	filter: keys("FILTER", "FILTNAME", "FILTERNM", "FILTNAM", "FILTNAM1", "FILTNM", "FLTNAME", "FILTERID", "FILTER1",
		"INSFILTE", "FILTR", "FILER", "FILT", "FWPOSNAM", "FILTERS", "ESO INS FILT1 NAME", "ESO INS FILTER"),
	target:    keys("OBJECT", "OBJNAME", "TARGET", "TARGNAME", "TARGETID", "OBJECTNA", "OBJCT", "OBJEKT", "OBJ", "OBJ-NAME", "OBJ_NAME", "OBJNAM", "OBJCTNAM", "TARGNAM", "TARG_NAM", "TGTNAME", "FIELD"),
	camera:    keys("INSTRUME", "CAMERA", "CAMNAME", "CAMMODEL", "CAMERAID", "DETECTOR", "DETNAM", "CCDNAME", "MODEL", "INSTRUMENT"),
	telescope: keys("TELESCOP", "TELESCOPE", "TELNAME", "SCOPE"),

	gain:            keys("GAIN", "GAINSET", "CAMGAIN", "GAINRAW", "GAINVAL", "SENSGAIN", "CCDGAINS"),
	iso:             keys("ISO", "ISOSPEED", "ISO-SPD", "ISOSPD", "ISO_SPEED", "ISOVAL"),
	electronsPerADU: keys("EGAIN", "E-GAIN", "EPERADU", "E_PER_ADU", "ELECADU", "EADU", "CVF", "CCDGAIN", "DETGAIN", "GAINEADU", "CONVGAIN"),
	offset:          keys("OFFSET", "OFFSETSET", "CAMOFFSE", "BLKLEVEL", "BLACKLEV", "BLACKLVL", "BLCKLVL", "BRIGHTNS", "BRIGHTNE", "CAMOFFS"),
	readNoise:       keys("RDNOISE", "READNOIS", "READNOISE", "RON", "ENOISE", "RD_NOISE", "RDNOIS", "CCDRON", "NOISE-E"),
	readoutMode:     keys("READOUTM", "READMODE", "RDOUTMOD", "READ_MOD", "READ-MOD", "RDMODE"),

	sensorTemp: keys("CCD-TEMP", "CCDTEMP", "CCD_TEMP", "SENSTEMP", "SENSORT", "DET-TEMP", "DETTEMP", "DET_TEMP", "CHIPTEMP",
		"TEMPERAT", "TEMPCCD", "CCDTMP", "CAMTEMP", "CAM-TEMP", "CHIP-TMP", "SENS-TMP", "SENSOR-T", "SENSOR_T", "SENTEMP", "DETTEM", "CCD_T", "TCCD", "T-CCD", "CCDTEMP1", "COOLTEMP", "TEMP", "ESO DET TEMP"),
	setTemp: keys("SET-TEMP", "SETTEMP", "SET_TEMP", "CCD-SET", "CCDSET", "TEMPSET", "TEMP-SET", "CCDTSET", "SETPOINT",
		"CCDSETP", "COOLTARG", "TARGTEMP", "TEMPTARG", "TRGTTEMP"),
	ambientTemp: keys("AMBTEMP", "AMB-TEMP", "AMBIENT", "TEMPAMB", "OUTTEMP", "TEMPEXT", "AOCAMBT", "AIRTEMP", "WXTEMP", "W-TEMP",
		"FOCTEMP", "FOCUSTEM", "FOCUSTMP", "FOCTMP", "TEMPFOC"),

	binX:              keys("XBINNING", "CCDXBIN", "BINX", "XBIN", "BIN_X", "BINNINGX", "HBIN", "CCDBIN1", "BIN1", "ESO DET WIN1 BINX"),
	binY:              keys("YBINNING", "CCDYBIN", "BINY", "YBIN", "BIN_Y", "BINNINGY", "VBIN", "CCDBIN2", "BIN2", "ESO DET WIN1 BINY"),
	binBoth:           keys("BINNING", "CCDSUM", "BINMODE", "CCDBIN", "BIN", "DATAMODE"),
	pixelSize:         keys("XPIXSZ", "PIXSZ", "PIXSIZEX", "XPIXELSZ"),
	pixelSizeUnbinned: keys("PIXSIZE1", "PIXSIZE", "PIXELSZ", "XPIXSIZE", "PIXELSIZ", "PIXSIZ", "CCDPIXSZ", "PXSIZE", "PIXEL"),

	focalLength: keys("FOCALLEN", "FOCAL", "FOCLEN", "FOCALLENGTH", "FOCAL_LE", "TELFOCAL", "TELFOC", "FLENGTH", "FOCALLTH", "FL"),
	aperture:    keys("APTDIA", "APERTUR", "APERTURE", "TELDIAM", "TELAPERT", "DIAMETER", "APDIA", "SCOPEDIA", "TELDIA"),
	plateScale:  keys("PIXSCALE", "SECPIX", "SECPIX1", "SECPIX2", "PLATESCL", "SCALE", "PIXSCAL1", "PIXSCAL2", "PIXSCL", "PIXELSCL", "PIX-SCAL", "PIXSCALX", "PIXELSCALE", "ARCSECPI", "PLTSCALE", "PLATE-SC", "IMSCALE", "ARCSECPX", "SECPERPX", "SCALEPIX"),

	ra:            keys("RA", "OBJCTRA", "RA_OBS", "RA-MNT", "RA-TEL", "TELRA", "RA_TEL", "RA-OBS", "RA_TARG", "RA_OBJ", "OBJRA", "MNTRA", "RA_PNT", "RA_DEG", "RA2000", "RAJ2000", "CRVAL1"),
	dec:           keys("DEC", "OBJCTDEC", "DEC_OBS", "DEC-MNT", "DEC-TEL", "TELDEC", "DEC_TEL", "DEC-OBS", "DEC_TARG", "DEC_OBJ", "OBJDEC", "MNTDEC", "DEC_PNT", "DEC_DEG", "DEC2000", "DECJ2000", "CRVAL2"),
	siteLat:       keys("SITELAT", "LAT-OBS", "OBSGEO-B", "OBS-LAT", "OBSLAT", "SITE_LAT", "GEOLAT", "GEO_LAT", "LATITUDE", "SITELATI", "LAT_OBS", "SITE-LAT", "TELLAT", "OBSERLAT", "GPSLAT", "GPS-LAT", "GPS_LAT", "LAT", "ESO TEL GEOLAT"),
	siteLon:       keys("SITELONG", "LONG-OBS", "OBSGEO-L", "OBS-LONG", "OBSLONG", "SITE_LON", "SITELON", "GEOLON", "GEO_LONG", "GEOLONG", "LONGITUD", "LONGITUDE", "LON-OBS", "LONG_OBS", "SITE-LON", "TELLONG", "TELLON", "OBSERLON", "GPSLON", "GPS-LON", "GPS_LON", "GPSLONG", "LON", "LONG", "ESO TEL GEOLON"),
	siteElevation: keys("SITEELEV", "ELEV-OBS", "OBSGEO-H", "ALT-OBS", "OBS-ELEV", "OBSELEV", "SITEALT", "SITE_ALT", "GEOELEV", "ELEVATIO", "ALT_OBS", "ESO TEL GEOELEV"),

	pierSide:  keys("PIERSIDE", "PIER_SIDE", "PIER-SID", "PIER", "MNTPIER", "TELPIER"),
	rotator:   keys("ROTATANG", "ROTATOR", "ROTANGLE", "ROTATPOS", "ROTPOS"),
	skyAngle:  keys("ROTPA", "ROTSKYPA", "OBJCTROT", "POSANGLE"),
	focus:     keys("FOCUSPOS", "FOCPOS", "FOCUSSTP", "FOCUSER", "FOCUSVAL", "FOCSTEP", "TELFOCUS", "FOC-POS", "FOCUS"),
	airmass:   keys("AIRMASS", "SECZ", "AIRMSTRT", "AIR_MASS", "AMSTART"),
	zeroPoint: keys("MAGZERO", "MAGZPT", "ZEROPOINT", "ZEROPT", "ZMAG", "PHOTZP", "ZPOINT"),

	bayer:    keys("BAYERPAT", "BAYERPTN", "BAYER", "CFAPAT", "CFAPATT", "CFA-PAT", "CFA", "COLORPAT", "COLORTYP", "MOSAIC", "FILTER"),
	bayerX:   keys("XBAYROFF", "BAYOFFX", "BAYROFFX", "BAYERX"),
	bayerY:   keys("YBAYROFF", "BAYOFFY", "BAYROFFY", "BAYERY"),
	rowOrder: keys("ROWORDER"),

	dateTime:   keys("DATE-OBS", "DATE-BEG", "DATE_OBS", "DATEOBS", "DATE-BEGIN", "DATE-STA", "UTC-OBS", "DATETIME", "UTSTART", "UTC_START", "FRAME", "UTDATE", "UT-DATE", "UT_DATE", "DATE-UT", "DATE_UT", "DATEUT", "OBSDATE", "OBS-DATE", "OBS_DATE", "DATE-AVG", "DATE-END"),
	timeOfDay:  keys("TIME-OBS", "UT", "UTC", "UT-START", "UTSTART", "UTC-OBS", "UTOBS", "UT-OBS", "UTTIME", "TIME-BEG", "TIME_OBS", "TIMEOBS", "UTSHUT", "UT1", "TM-START", "START", "UTCSTART", "UT-TIME", "UT_TIME", "TIME-UT", "TIME_UT", "OBSTIME", "OBS-TIME", "OBS_TIME", "TIME"),
	localDate:  keys("DATE-LOC", "DATELOC", "LOCALTIM", "LOCTIME", "DATE-LT", "LT-DATE", "DATE_LOC", "LOCAL-DT", "LOCALDAT"),
	localClock: keys("TIME-LOC", "TIMELOC", "LOCTIME", "LOCALTIM", "LT", "LT-OBS", "LTIME", "LOC-TIME"),
	utcClock:   keys("UT", "UTC", "UT-START", "UTSTART", "UTC-OBS", "UTOBS", "UT-OBS", "UTTIME", "UT-TIME", "UT_TIME", "TIME_UT", "UTSHUT", "UTCSTART", "TIME-UT", "UTIME"),
	zone:       keys("TIMEZONE", "TIMEZON", "TIME-ZON", "TZ", "TZOFFSET", "UTCOFFS", "UTCOFFSE", "UTOFFSET", "UTC-OFF", "GMTOFFS", "GMTOFFSE", "ZONE", "TELTZ"),
	altitude:   keys("OBJCTALT", "CENTALT", "TELALT", "TEL_ALT", "ALT-TEL", "ALT_OBJ", "ALTITUDE", "MNT-ALT", "ALT"),
	hourAngle:  keys("HA", "OBJCTHA", "HOURANGL", "HOUR_ANG", "HA-OBS", "HA_OBS", "TELHA", "HA-TEL", "TCSHA", "STARTHA"),
	sidereal:   keys("LST", "LST-OBS", "LST_OBS", "SIDTIME", "SIDEREAL", "ST", "LAST", "TELLST", "STARTST"),
	mjdStart:   keys("MJD-OBS", "MJD-BEG", "MJD_OBS", "MJDOBS", "MJDSTART", "MJD", "MJD-AVG", "MJD-MID", "MJD-END"),
	jdStart:    keys("JD", "JD-OBS", "JD_OBS", "JDSTART", "JD-START", "JULDATE", "JD_UTC", "JD-AVG", "JD-MID", "JD-END"),

	pedestal:   keys("PEDESTAL"),
	sampleBits: keys("BITDEPTH", "ADCBITS", "ADC-BITS", "BITCAMPX", "BITSPIX", "SAMPBITS", "ADCDEPTH", "BITPERPX", "CAMBITS"),
	frameCount: keys("NCOMBINE", "NUMCOMB", "STACKCNT", "NSTACK", "NFRAMES", "STACKED", "NIMAGES", "NUM_COMB", "SNAPSHOT", "COMBINED", "NSUBS", "NCOMB", "NSTACKED", "STACKNUM", "NB-IMAGE", "NINPUTS", "N_IMAGES"),
}
