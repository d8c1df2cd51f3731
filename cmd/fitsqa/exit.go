package main

// Exit codes. They are part of the interface: scripts branch on them.
const (
	exitDone        = 0   // all done
	exitUsage       = 2   // the command line or the configuration is wrong
	exitUnreadable  = 3   // done, but some files could not be read
	exitNothing     = 4   // no usable frame was found
	exitOutput      = 5   // the output could not be written
	exitFailedReads = 6   // done, but the system did not give some files: a device that fails, a permission that lacks
	exitInterrupted = 130 // stopped by a signal; no output was written
)

const exitCodesHelp = `Exit codes:
  0    done
  2    wrong command line or configuration
  3    done, but some files could not be read
  4    nothing usable found
  5    output could not be written
  6    done, but some reads failed: try again, check drive and permissions
  130  interrupted; nothing half-written is left
`
