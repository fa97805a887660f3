// Package bus tells the model of the bus, from a test in the guest, what its chips feel and what is wrong with them.
package bus

import (
	"bufio"
	"fmt"
	"net"
	"strings"
)

// Socket is where the model takes orders.
const Socket = "/run/busmodel"

// Model is an open line to the model.
type Model struct {
	conn net.Conn
	in   *bufio.Reader
}

// Dial opens a line to the model.
func Dial() (*Model, error) {
	c, err := net.Dial("unix", Socket)
	if err != nil {
		return nil, err
	}
	return &Model{c, bufio.NewReader(c)}, nil
}

// Order gives one order, in the words that cmd/busmodel lists, and returns its answer.
func (m *Model) Order(format string, args ...any) (string, error) {
	if _, err := fmt.Fprintf(m.conn, format+"\n", args...); err != nil {
		return "", err
	}
	line, err := m.in.ReadString('\n')
	if err != nil {
		return "", err
	}
	line = strings.TrimSpace(line)
	if text, ok := strings.CutPrefix(line, "ok"); ok {
		return strings.TrimSpace(text), nil
	}
	return "", fmt.Errorf("%s: %s", fmt.Sprintf(format, args...), strings.TrimPrefix(line, "no "))
}
