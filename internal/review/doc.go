// Package review serves one night on this machine alone, for looking, deciding
// and moving: the page that check wrote, with the frames themselves at any zoom,
// the stars as measured, and marks that are kept.
//
// Nothing is served but the page, its two assets and pictures of the night's own
// frames, which are named by their number and never by a path. Requests need the
// token that is part of the address, this machine's address as their host, and,
// where the browser tells it, this page as their origin. A frame that changed or
// vanished since the analysis is refused. The only thing that is ever changed in
// a source folder is what a cull moves, by package cull and its journal.
package review
