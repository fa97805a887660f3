package benchtest

import (
	"fmt"
	"runtime"
)

// Cases returns the suite.
func Cases() []Case {
	all := []struct {
		name string
		run  func(*driver)
	}{
		{"every output is off after opening", offAtFirst},
		{"outputs follow what is driven", follows},
		{"levels of nothing switch everything off in the same call", zeroIsOff},
		{"the heater needs both its lines", heaterNeedsBoth},
		{"levels that are no numbers are off", nonsenseIsOff},
		{"Close leaves every output off, twice", closes},
		{"Close leaves every output off when nothing was ever driven", closesUnused},
		{"Read and Drive after Close are errors", refusesAfterClose},
		{"healthy sensors give good readings", healthy},
		{"a sensor that is not fitted is absent", absent},
		{"a contact that opens is seen in the next tick", contactOpens},
		{"a sensor that cannot be read is not good, and comes back", failing},
		{"a sensor that makes no new value grows old", silent},
		{"a sensor that hangs makes no tick wait", hanging},
		{"time that runs backwards makes no age negative", backwards},
	}
	var cases []Case
	for _, c := range all {
		cases = append(cases, Case{c.name, func(t T, r Rig) { c.run(&driver{T: t, Rig: r}) }})
	}
	return cases
}

// Finding is how one case went.
type Finding struct {
	Name   string
	Failed []string // what was wrong; empty for a case that passed
	Notes  []string // what could not be tried on this rig, and the like
}

// Program runs the whole suite without a test around it: each case with a rig of its own, which is ended after it. A rig
// that cannot be opened is a failure of its case.
func Program(open func() (Rig, error)) (findings []Finding) {
	for _, c := range Cases() {
		f := Finding{Name: c.Name}
		done := make(chan struct{})
		go func() { // so that Fatalf can end it
			defer close(done)
			rig, err := open()
			if err != nil {
				f.Failed = append(f.Failed, fmt.Sprintf("the bench cannot be opened: %v", err))
				return
			}
			defer rig.End()
			c.Run(&collector{&f}, rig)
		}()
		<-done
		findings = append(findings, f)
	}
	return findings
}

// collector is a T that collects.
type collector struct{ *Finding }

// Errorf notes what was wrong.
func (c *collector) Errorf(format string, args ...any) {
	c.Failed = append(c.Failed, fmt.Sprintf(format, args...))
}

// Fatalf notes it and ends the case.
func (c *collector) Fatalf(format string, args ...any) {
	c.Errorf(format, args...)
	runtime.Goexit()
}

// Logf notes something beside.
func (c *collector) Logf(format string, args ...any) {
	c.Notes = append(c.Notes, fmt.Sprintf(format, args...))
}
