package record

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
)

// What can be wrong with a record; test with errors.Is. The sentence for a person is the whole error's text.
var (
	ErrMissing   = errors.New("no record there")
	ErrReadOnly  = errors.New("record is read-only")
	ErrDamaged   = errors.New("record is damaged")
	ErrNotRecord = errors.New("not a record")
	ErrNewer     = errors.New("record is of a newer version")
	ErrOlder     = errors.New("record is of an older version")
	ErrLocked    = errors.New("record is locked")
	ErrFull      = errors.New("disk is full")
	ErrLowSpace  = errors.New("too little space left")
	ErrFailing   = errors.New("record cannot be read or written")
	ErrCutShort  = errors.New("an earlier cycle was cut short")
	ErrAttention = errors.New("something must be acknowledged first")
	ErrEnded     = errors.New("cycle has ended")
	ErrUnknown   = errors.New("not in the record")
	ErrKnown     = errors.New("in the record already")
	ErrUnfit     = errors.New("cannot be kept")
	ErrNotEmpty  = errors.New("record is not empty")
	ErrNotExport = errors.New("not an export of a record")
)

// advice says, for each kind, what happened (%s is the file) and what to do. Detail stands between the two.
var advice = map[error][2]string{
	ErrMissing:   {"there is no record at %s", "The first cycle makes it; or name the right file with --record"},
	ErrReadOnly:  {"cannot write the record %s", "Its folder or file is read-only: make it writable, or name another file with --record"},
	ErrDamaged:   {"the record %s is damaged", "Nothing was changed in it. Keep a copy, set it aside (it is renamed, not deleted) and start a fresh record, or put an older copy in its place"},
	ErrNotRecord: {"%s is not a record of this program", "Nothing was changed in it. Name another file with --record; if it was a record once, it is damaged: set it aside"},
	ErrNewer:     {"the record %s was written by a newer version of this program", "Nothing was changed in it. Use that version, or name another file with --record"},
	ErrOlder:     {"the record %s was written by an older version of this program", "Open it once for writing, by running a cycle, to bring it up to date"},
	ErrLocked:    {"the record %s is held by another program", "Close that program, then try again"},
	ErrFull:      {"no space is left for the record %s", "Free some space on that disk; what was recorded before is kept"},
	ErrLowSpace:  {"there is little space left for the record %s", "Free some space on that disk, or name a file on another disk with --record"},
	ErrFailing:   {"the record %s cannot be read or written", "The card or disk may be failing: copy the record to another one"},
	ErrCutShort:  {"the record %s holds a cycle that was cut short", "Choose first what is to become of it: resume, dry or end"},
	ErrAttention: {"the record %s holds something to acknowledge", "Read it and acknowledge it, then start again"},
	ErrUnknown:   {"the record %s does not know it", "List what it has, or name another file with --record"},
	ErrKnown:     {"the record %s has it already", "Nothing was stored. Look at the one that is named"},
	ErrUnfit:     {"the record %s cannot keep this", "Nothing was stored. Put it right, then try again"},
	ErrNotEmpty:  {"the record %s is not empty", "Nothing was imported. Name a file that is not there yet with --record"},
	ErrNotExport: {"this cannot be taken over into the record %s", "Nothing was imported. Export it anew from the record that it came from"},
	ErrEnded:     {"the record %s takes nothing more for this cycle", "Start a new cycle"},
}

// Error is what went wrong with a record file: a sentence for the person at the bench that ends in what to do.
type Error struct {
	Path   string // the file
	Kind   error  // one of the Err values above
	Detail string // what exactly, in words; may be empty
	Err    error  // the cause; may be nil
}

// Error returns the sentence.
func (e *Error) Error() string {
	words, known := advice[e.Kind]
	if !known {
		words = advice[ErrFailing]
	}
	s := fmt.Sprintf(words[0], e.Path)
	if e.Detail != "" {
		s += ": " + e.Detail
	}
	return s + ". " + words[1] + "."
}

// Unwrap lets errors.Is and errors.As see both the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// fault makes an Error without a cause.
func fault(path string, kind error, format string, args ...any) *Error {
	return &Error{Path: path, Kind: kind, Detail: fmt.Sprintf(format, args...)}
}

// fileFault makes an Error of what the operating system said about path.
func fileFault(path string, err error) error {
	kind := ErrFailing
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist):
		kind = ErrMissing
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		kind = ErrReadOnly
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		kind = ErrFull
	}
	return &Error{Path: path, Kind: kind, Detail: err.Error(), Err: err}
}
