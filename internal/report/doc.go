// Package report turns a night's Result into files for people and programs:
//
//	report.txt       the answer on the first screen, every figure after it
//	subs.csv         one row a sub
//	calibration.csv  one row a measured figure of the calibration frames
//	night.json       everything, described by night.schema.json
//	report.html      one page with pictures that opens from disk
//
// Nothing is measured here. A report counts, sorts and words what the Result
// holds; a figure that could not be measured stays empty and keeps its reason.
//
// File names and header text come from strangers. Text and CSV show them
// through frames.Printable, JSON through encoding/json, HTML through
// html/template, so that none of them can steer a terminal, a spreadsheet or
// a browser.
//
// Units: px, ADU, e-, s, °C and degrees unless a name says otherwise; times
// are UTC. Pixel centres are at integers, the first pixel is 0,0, x runs along
// a row and y up the rows as stored.
package report
