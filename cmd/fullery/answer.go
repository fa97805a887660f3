package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"time"
)

// What passes between the owner of a bench and another process that asks it for something. The asker sends one line: "off",
// "order NAME" or "run" with a JSON object. To off the owner answers one line of text; to the others pieces, a JSON object a
// line: what is to be printed where, and last the exit status.

// piece is one line of an answer.
type piece struct {
	Out    string `json:"out,omitempty"`
	Errs   string `json:"errs,omitempty"`
	Status *int   `json:"status,omitempty"` // the last piece
}

// answer writes pieces to an asker. One that does not listen is given up, never waited for: the cycle goes on.
type answer struct{ to io.Writer }

// sendWithin is how long a piece may take.
const sendWithin = 2 * time.Second

func (a answer) send(p piece) error {
	line, err := json.Marshal(p)
	if err != nil {
		return err
	}
	if c, ok := a.to.(net.Conn); ok {
		_ = c.SetWriteDeadline(time.Now().Add(sendWithin))
	}
	_, err = a.to.Write(append(line, '\n'))
	return err
}

// out and errs are the two streams of an answer.
func (a answer) out() io.Writer { return stream(func(s string) error { return a.send(piece{Out: s}) }) }
func (a answer) errs() io.Writer {
	return stream(func(s string) error { return a.send(piece{Errs: s}) })
}

// end sends what an error says and its status; nil is done.
func (a answer) end(err error) {
	status := statusOf(err)
	last := piece{Status: &status}
	if err != nil && err.Error() != "" {
		last.Errs = err.Error() + "\n"
	}
	_ = a.send(last)
}

// stream makes a function a writer.
type stream func(string) error

func (f stream) Write(p []byte) (int, error) {
	if err := f(string(p)); err != nil {
		return 0, err
	}
	return len(p), nil
}

// errNoEnd is an owner that is gone before it said what came of it.
var errNoEnd = errors.New("the owner of the bench broke off before the end: look at the bench, and what the record has, " +
	"before you go on")

// followAnswer prints pieces until the last one, and returns what it says as an error with its status.
func followAnswer(from io.Reader, out, errs io.Writer) error {
	for pieces := json.NewDecoder(from); ; {
		var p piece
		if err := pieces.Decode(&p); err != nil {
			return withStatus(statusPersonal, errNoEnd)
		}
		if _, err := io.WriteString(out, p.Out); err != nil {
			return withStatus(statusUsage, fmt.Errorf("%w; the cycle goes on", err))
		}
		if _, err := io.WriteString(errs, p.Errs); err != nil {
			return withStatus(statusUsage, fmt.Errorf("%w; the cycle goes on", err))
		}
		switch {
		case p.Status != nil && *p.Status == statusDone:
			return nil
		case p.Status != nil:
			return withStatus(*p.Status, nil)
		}
	}
}
