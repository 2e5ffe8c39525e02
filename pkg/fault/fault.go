// Package fault is the one error type that crosses borders: from a deciding
// function to its room, over the wire to the page, and from the page to a
// person.
//
// A Fault has a kind for machines, a sentence for people and, when one input is
// to blame, that input's name. Wrapping text added with %w on the way is for
// operators; it is lost at the wire, as are causes.
package fault

import (
	"errors"
	"fmt"
)

// Kind says what sort of answer a fault is. Kinds are append-only: they are
// part of what rooms say to each other.
type Kind string

const (
	// Invalid: the input breaks a rule; the sender can mend it.
	Invalid Kind = "invalid"
	// Unknown: nothing stands under that name or id.
	Unknown Kind = "unknown"
	// SignIn: nobody is signed in, or the private link has ended.
	SignIn Kind = "sign-in"
	// Forbidden: this person may not do this.
	Forbidden Kind = "forbidden"
	// Conflict: somebody wrote meanwhile, or the thing is no longer in the
	// state that the command needs.
	Conflict Kind = "conflict"
	// Busy: the queue is full; nothing was written; try again.
	Busy Kind = "busy"
	// Unavailable: a room or a part did not answer in time. What was asked may
	// or may not have been done; repeating it with the same request key is safe.
	Unavailable Kind = "unavailable"
	// Internal: our mistake. Its text is for the log, never for a page.
	Internal Kind = "internal"
)

// Fault is an error with a kind, the field that is to blame (may be empty) and
// a sentence that says what to do next.
type Fault struct {
	Kind  Kind   `json:"kind"`
	Field string `json:"field,omitempty"`
	Text  string `json:"text"`
	cause error
}

// Error gives the field and the sentence, and the cause for the log.
func (f *Fault) Error() string {
	text := f.Text
	if f.Field != "" {
		text = f.Field + ": " + text
	}
	if f.cause != nil {
		text += ": " + f.cause.Error()
	}
	return text
}

// Unwrap gives the cause, if the fault was made from one.
func (f *Fault) Unwrap() error { return f.cause }

// New makes a fault of a kind without a field.
func New(kind Kind, format string, args ...any) *Fault {
	return &Fault{Kind: kind, Text: fmt.Sprintf(format, args...)}
}

// Field makes an Invalid fault that names the input to blame.
func Field(field, format string, args ...any) *Fault {
	return &Fault{Kind: Invalid, Field: field, Text: fmt.Sprintf(format, args...)}
}

// Because makes a fault that keeps err as its cause for the log.
func Because(kind Kind, err error, format string, args ...any) *Fault {
	return &Fault{Kind: kind, Text: fmt.Sprintf(format, args...), cause: err}
}

// Of gives the fault in err's chain. Any other error is Internal, with err as
// its cause; nil stays nil.
func Of(err error) *Fault {
	if err == nil {
		return nil
	}
	var f *Fault
	if errors.As(err, &f) {
		return f
	}
	return &Fault{Kind: Internal, Text: "something went wrong on our side; it has been written down", cause: err}
}

// Is says whether err is a fault of this kind.
func Is(err error, kind Kind) bool { return err != nil && Of(err).Kind == kind }
