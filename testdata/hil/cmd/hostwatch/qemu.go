package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"strings"
	"sync"
	"time"
)

// monitor speaks QEMU's machine protocol, of which we need little: find a device, start, and quit.
type monitor struct {
	conn net.Conn
	in   *json.Decoder
}

// dial waits until QEMU has made the socket.
func dial(path string) (net.Conn, error) {
	var err error
	for range 100 {
		var c net.Conn
		if c, err = net.Dial("unix", path); err == nil {
			return c, nil
		}
		time.Sleep(50 * time.Millisecond)
	}
	return nil, err
}

func newMonitor(path string) (*monitor, error) {
	c, err := dial(path)
	if err != nil {
		return nil, err
	}
	m := &monitor{c, json.NewDecoder(c)}
	_, err = m.do("qmp_capabilities", nil)
	return m, err
}

// do runs one command; events that come in between are dropped.
func (m *monitor) do(command string, arguments any) (json.RawMessage, error) {
	request := map[string]any{"execute": command}
	if arguments != nil {
		request["arguments"] = arguments
	}
	if err := json.NewEncoder(m.conn).Encode(request); err != nil {
		return nil, err
	}
	for {
		var answer struct {
			Return json.RawMessage
			Error  *struct{ Desc string }
		}
		if err := m.in.Decode(&answer); err != nil {
			return nil, err
		}
		if answer.Error != nil {
			return nil, fmt.Errorf("%s: %s", command, answer.Error.Desc)
		}
		if answer.Return != nil {
			return answer.Return, nil
		}
	}
}

// find is the path of the first device of a kind in QEMU's tree, at most depth levels below path, or "".
func (m *monitor) find(path, kind string, depth int) string {
	answer, err := m.do("qom-list", map[string]any{"path": path})
	if err != nil || depth == 0 {
		return ""
	}
	var children []struct{ Name, Type string }
	if json.Unmarshal(answer, &children) != nil {
		return ""
	}
	for _, c := range children {
		if c.Type == "child<"+kind+">" {
			return path + "/" + c.Name
		}
	}
	for _, c := range children {
		if strings.HasPrefix(c.Type, "child<") && !strings.Contains(c.Type, "memory-region") && !strings.Contains(c.Type, "irq") {
			if found := m.find(path+"/"+c.Name, kind, depth-1); found != "" {
				return found
			}
		}
	}
	return ""
}

// probe speaks QEMU's test protocol: one line a command, one line an answer, and in between a line for every change of a
// wire that is intercepted, in the moment of the change.
type probe struct {
	mu      sync.Mutex
	conn    net.Conn
	answers chan string
}

// newProbe calls note with each change: the wire's number, and its level.
func newProbe(path string, note func(line, level int)) (*probe, error) {
	c, err := dial(path)
	if err != nil {
		return nil, err
	}
	p := &probe{conn: c, answers: make(chan string, 1)}
	go p.listen(note)
	return p, nil
}

func (p *probe) listen(note func(line, level int)) {
	defer close(p.answers)
	in := bufio.NewScanner(p.conn)
	for in.Scan() {
		text := in.Text()
		var which string
		var line int
		if n, _ := fmt.Sscanf(text, "IRQ %s %d", &which, &line); n == 2 {
			level := 0
			if which == "raise" {
				level = 1
			}
			note(line, level)
			continue
		}
		p.answers <- text
	}
}

// do runs one command and returns what follows the OK.
func (p *probe) do(command string) (string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, err := fmt.Fprintln(p.conn, command); err != nil {
		return "", err
	}
	answer, open := <-p.answers
	if text, ok := strings.CutPrefix(answer, "OK"); open && ok {
		return strings.TrimSpace(text), nil
	}
	return "", fmt.Errorf("QEMU refused %q: %s", command, answer)
}
