package main

// wireStateJSON is how a wire is at some time.
type wireStateJSON struct {
	Is  string `json:"is"`
	Why string `json:"why"`
}

// wireJSON is one wire. A text that is empty stands for none, as does null for a number, because 0 is a line and a channel.
type wireJSON struct {
	Role     string        `json:"role"`
	Group    string        `json:"group"`
	Use      string        `json:"use"`
	Colour   string        `json:"colour"`
	Pin      *int          `json:"pin"`    // null: on no pin of the header, or not known
	Line     string        `json:"line"`   // "" for none
	Offset   *int          `json:"offset"` // null: no line, or not known
	PWM      string        `json:"pwm"`
	Chip     string        `json:"chip"`
	Bus      string        `json:"bus"`
	Address  *int          `json:"address"`
	Channel  *int          `json:"channel"`
	Way      string        `json:"way"`
	Active   string        `json:"active"`
	Held     string        `json:"held"`
	PowerOff wireStateJSON `json:"power_off"`
	Boot     wireStateJSON `json:"board_starts"`
	Idle     wireStateJSON `json:"nothing_runs"`
	Crash    wireStateJSON `json:"after_crash"`
	Warnings []string      `json:"warnings"`
}

type wiringJSON struct {
	Bench  string     `json:"bench"`
	Title  string     `json:"title"`
	Chip   string     `json:"chip"`
	Header string     `json:"header"`
	Wires  []wireJSON `json:"wires"`
	Notes  []string   `json:"notes"`
}

// json is the table for programs; its states are in the order of a day.
func (t wiringTable) json() wiringJSON {
	out := wiringJSON{Bench: t.bench.Name, Title: t.bench.Title, Chip: t.bench.Board.Chip, Header: t.bench.Board.Header, Notes: t.notes()}
	for _, w := range t.wires {
		one := wireJSON{Role: w.Role, Group: w.Group.String(), Use: w.Use.String(), Colour: w.Use.Colour(), Line: w.Line.Name, PWM: w.PWM,
			Chip: w.Chip, Bus: w.Bus, Way: wayWords(w), Active: w.Active, Held: w.Pull, PowerOff: wireStateJSON(w.PowerOff),
			Boot: wireStateJSON(w.Boot), Idle: wireStateJSON(w.Idle), Crash: wireStateJSON(w.Crash),
			Warnings: append([]string{}, w.Warnings...)}
		one.Pin, one.Address = unless(w.Pin, 0), unless(w.Address, 0)
		one.Offset, one.Channel = unless(w.Line.Offset, -1), unless(w.Channel, -1)
		out.Wires = append(out.Wires, one)
	}
	return out
}

// unless is null for the value that stands for nothing.
func unless(value, nothing int) *int {
	if value == nothing {
		return nil
	}
	return &value
}
