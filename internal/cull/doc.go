// Package cull moves the files of spoiled subs into a folder "culled" beside
// them, and back. Nothing is ever deleted, copied or overwritten: a file is
// renamed within its file system or left where it is.
//
// The order of work makes it safe to be killed, or to lose power, at any
// moment. First the whole intention is written as a journal: to a temporary
// name, synced, renamed into place, its folder synced. Only then are files
// renamed, one by one. The journal says what may have moved; whether it did is
// seen on the disk, where each file is at exactly one of two names. So a
// journal never needs to be brought up to date, and undo works from any state
// that a kill can leave.
//
// A file is moved only when it is still what was analysed: a regular file of
// the same size and modification time. Symbolic links stay, since moving one
// would set aside the link and leave the frame; of hard links the analysed name
// moves and the others stay. A target name that exists already stops the move
// of that file.
//
// What it cannot guard against: another program that writes to a frame between
// the check and the rename (the frame then moves with its new content, and comes
// back with it), and, on systems or file systems without an exclusive
// rename, one that creates the target name in that moment.
package cull

// Folder is the name of the folder that culled files are moved into, beside
// where they were. A scan of a night leaves out what is in such folders.
const Folder = "culled"

// JournalName is the journal's name in the output folder, and undoneName what
// it is renamed to when all is back.
const (
	JournalName = "cull-journal.txt"
	undoneName  = "cull-journal-undone.txt"
)
