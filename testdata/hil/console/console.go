// Package console is the guest's half of the serial console: what a test inside the guest says to the host that watches
// it. Every line that is meant for the host begins with a tilde and a word; all others are chatter and only logged.
//
//	~pass TEXT, ~fail TEXT     one check
//	~wait TEXT                 a scenario that is not run, and what it waits for
//	~wire NAME LEVEL           a wire that only the guest can see, such as a channel of a modelled PWM chip
//	~ask REQUEST               answered by the host with one line: ~ok TEXT or ~no REASON, each quoted as JSON
//	~end failed=N steps=N      the guest's last word
package console

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// The first words of the lines that the two sides exchange.
const (
	Pass = "~pass "
	Fail = "~fail "
	Wait = "~wait "
	Wire = "~wire "
	Ask  = "~ask "
	OK   = "~ok "
	No   = "~no "
	End  = "~end "
)

// Host asks the host over a pair of streams and counts the checks that the guest makes.
type Host struct {
	in             *bufio.Reader
	out            io.Writer
	passed, failed int
}

// Dial takes the process's own standard streams, which init has tied to the serial console.
func Dial() *Host { return New(os.Stdin, os.Stdout) }

// New talks over any pair of streams.
func New(in io.Reader, out io.Writer) *Host { return &Host{in: bufio.NewReader(in), out: out} }

// Ask sends one request and waits for its answer. The error is the host's reason, or that of the line.
func (h *Host) Ask(format string, args ...any) (string, error) {
	// One write a line, begun afresh: other programs and the kernel write to the same console.
	if _, err := fmt.Fprintf(h.out, "\n%s%s\n", Ask, fmt.Sprintf(format, args...)); err != nil {
		return "", err
	}
	for {
		line, err := h.in.ReadString('\n')
		if err != nil {
			return "", err
		}
		if text, ok := strings.CutPrefix(strings.TrimSpace(line), OK); ok {
			return unquote(text)
		}
		if text, ok := strings.CutPrefix(strings.TrimSpace(line), No); ok {
			reason, err := unquote(text)
			if err == nil {
				err = errors.New(reason)
			}
			return "", err
		}
	}
}

func unquote(text string) (string, error) {
	var s string
	if err := json.Unmarshal([]byte(text), &s); err != nil {
		return "", fmt.Errorf("the host's answer %q is not quoted: %w", text, err)
	}
	return s, nil
}

// Quote makes an answer fit for one line.
func Quote(text string) string {
	b, _ := json.Marshal(text) // a string always can be marshalled
	return string(b)
}

// Check reports one check, and returns ok so that a test can give up where the rest has no meaning.
func (h *Host) Check(ok bool, format string, args ...any) bool {
	word := Pass
	if ok {
		h.passed++
	} else {
		word = Fail
		h.failed++
	}
	fmt.Fprintf(h.out, "\n%s%s\n", word, oneLine(fmt.Sprintf(format, args...)))
	return ok
}

// Waits reports a scenario that is not run.
func (h *Host) Waits(format string, args ...any) {
	fmt.Fprintf(h.out, "\n%s%s\n", Wait, oneLine(fmt.Sprintf(format, args...)))
}

// Note writes a line that is only logged.
func (h *Host) Note(format string, args ...any) { fmt.Fprintf(h.out, format+"\n", args...) }

// Status is the exit status that the checks so far deserve: 0 when there was one and none failed.
func (h *Host) Status() int {
	if h.failed > 0 || h.passed == 0 {
		return 1
	}
	return 0
}

func oneLine(text string) string { return strings.ReplaceAll(strings.TrimSpace(text), "\n", " | ") }
