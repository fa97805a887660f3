package simbench

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"fullery/recipe"
)

// FaultOrder asks for a fault at a time in a stage.
type FaultOrder struct {
	ID    string
	Stage recipe.Kind
	After time.Duration // since the stage began
	Lasts time.Duration // 0: to the end
}

// String writes the order as ParseFault reads it.
func (o FaultOrder) String() string {
	s := o.ID + "@" + o.Stage.String() + "+" + spell(o.After)
	if o.Lasts > 0 {
		s += ".." + spell(o.Lasts)
	}
	return s
}

// longest is the longest time that an order may name.
const longest = 100 * time.Hour

// units are the units of time that an order may be written in.
var units = []struct {
	name string
	is   time.Duration
}{{"min", time.Minute}, {"ms", time.Millisecond}, {"s", time.Second}, {"h", time.Hour}}

// ParseFault reads an order as it is typed: ID@STAGE+TIME, with ..TIME for how long it lasts, as in "lid-open@scrub+5s" or
// "lid-open@scrub+5s..2s". Without +TIME it is made as the stage begins. Times are rounded to a millisecond.
func ParseFault(text string) (FaultOrder, error) {
	var o FaultOrder
	bad := func(format string, args ...any) (FaultOrder, error) {
		return FaultOrder{}, fmt.Errorf("cannot order the fault %q: %s", text, fmt.Sprintf(format, args...))
	}
	id, rest, found := strings.Cut(text, "@")
	if !found || id == "" || rest == "" {
		return bad("write ID@STAGE+TIME, as in lid-open@scrub+5s")
	}
	if _, ok := numbered(id); !ok {
		return bad("there is no fault %q%s; the command guards lists them", id, hint(id, faultIDs()))
	}
	stage, at, timed := strings.Cut(rest, "+")
	at, lasts, spanned := strings.Cut(at, "..")
	// Without a time the span, if there is one, follows the stage at once.
	if !timed {
		stage, lasts, spanned = strings.Cut(rest, "..")
		at = "0s"
	}
	o.ID, o.Stage = id, stageNamed(stage)
	if o.Stage == recipe.NoStage {
		return bad("there is no stage %q%s; stages are %s", stage, hint(stage, stageNames()), strings.Join(stageNames(), ", "))
	}
	var err error
	if o.After, err = span(at); err != nil {
		return bad("%v", err)
	}
	if spanned {
		if o.Lasts, err = span(lasts); err != nil {
			return bad("%v", err)
		}
		if o.Lasts <= 0 {
			return bad("it must last longer than nothing")
		}
	}
	return o, nil
}

// span reads a time of one number and one unit.
func span(text string) (time.Duration, error) {
	// The number is cut off by its characters, because ParseFloat takes more than a person should type: signs,
	// exponents, hexadecimal, "inf".
	digits := strings.TrimLeft(text, "0123456789.")
	number := text[:len(text)-len(digits)]
	if strings.HasPrefix(digits, ",") {
		return 0, fmt.Errorf("the time %q has a decimal comma; write a point", text)
	}
	if digits == "m" {
		return 0, fmt.Errorf("the time %q is in m, which is metres; minutes are min", text)
	}
	for _, u := range units {
		if digits != u.name {
			continue
		}
		n, err := strconv.ParseFloat(number, 64)
		if err != nil {
			break
		}
		// Compared as a float, before it could overflow a Duration.
		d := math.Round(n*float64(u.is)/float64(time.Millisecond)) * float64(time.Millisecond)
		if d > float64(longest) {
			return 0, fmt.Errorf("the time %q is longer than %v h", text, longest.Hours())
		}
		return time.Duration(d), nil
	}
	return 0, fmt.Errorf("the time %q is none; write a number and ms, s, min or h, as in 5s or 1.5min", text)
}

// spell writes a time of whole milliseconds as span reads it.
func spell(d time.Duration) string {
	for _, u := range []struct {
		name string
		is   time.Duration
	}{{"h", time.Hour}, {"min", time.Minute}, {"s", time.Second}} {
		if d > 0 && d%u.is == 0 {
			return strconv.FormatInt(int64(d/u.is), 10) + u.name
		}
	}
	return strconv.FormatInt(d.Milliseconds(), 10) + "ms"
}

// pending is an order and what became of it.
type pending struct {
	FaultOrder
	fault fault
	fired bool
	until time.Duration // when it ends; 0: it does not, or not known yet
	over  bool
}

// Order takes an order. It acts the first time that its stage has run that long, once. The error tells of an id that
// is no fault.
func (b *Bench) Order(o FaultOrder) error {
	f, ok := numbered(o.ID)
	if !ok {
		return fmt.Errorf("there is no fault %q%s; the command guards lists them", o.ID, hint(o.ID, faultIDs()))
	}
	b.orders = append(b.orders, pending{FaultOrder: o, fault: f})
	return nil
}

// AtStage tells the bench, before each Read, which stage runs and for how long, so that orders act when they are due.
func (b *Bench) AtStage(kind recipe.Kind, since time.Duration) {
	for i := range b.orders {
		p := &b.orders[i]
		if !p.fired && p.Stage == kind && since >= p.After {
			p.fired = true
			b.arm(p.fault, true)
		}
	}
}

// NeverDue returns the orders whose moment never came.
func (b *Bench) NeverDue() (list []FaultOrder) {
	for _, p := range b.orders {
		if !p.fired {
			list = append(list, p.FaultOrder)
		}
	}
	return list
}

// expire ends the orders that have lasted as long as asked.
// The bench's own clock, not the stage's, ends them: a stage that was left does not keep a lid open.
func (b *Bench) expire() {
	for i := range b.orders {
		p := &b.orders[i]
		switch {
		case !p.fired || p.over || p.Lasts <= 0:
		case p.until == 0:
			p.until = b.now + p.Lasts
		case b.now >= p.until:
			p.over = true
			b.arm(p.fault, false)
		}
	}
}

// stageNames lists the stages as they are typed.
func stageNames() (names []string) {
	for k := recipe.Wet; k <= recipe.Dry; k++ {
		names = append(names, k.String())
	}
	return names
}

// stageNamed returns the stage of that name, or NoStage.
func stageNamed(name string) recipe.Kind {
	for k := recipe.Wet; k <= recipe.Dry; k++ {
		if k.String() == name {
			return k
		}
	}
	return recipe.NoStage
}

// faultIDs lists the ids in the table's order.
func faultIDs() (ids []string) {
	for _, f := range faults {
		ids = append(ids, f.ID)
	}
	return ids
}
