package lines

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"unicode/utf8"
)

// Chip is a GPIO chip that was found by its label. Keep it open as long as the lines claimed from it: their Info asks it.
type Chip struct {
	node   string
	device Device
	info   ChipInfo
}

// Find opens the chip with a label, as `gpiodetect` shows it in brackets. The label must fit exactly one chip: numbers
// change from one kernel to the next, and with a wrong one another chip would be driven. Links to the same chip count
// once. The error lists what is there, or says which device may not be opened.
func Find(k Kernel, label string) (*Chip, error) {
	if label == "" {
		return nil, errors.New("name the label of the GPIO chip that the bench is wired to") // chips without one exist
	}
	nodes, err := k.Nodes()
	if err != nil {
		return nil, fmt.Errorf("the GPIO chips cannot be listed: %w", err)
	}
	s := survey{seen: map[string]bool{}}
	for _, node := range nodes {
		s.look(k, node, label)
	}
	if len(s.found) == 1 {
		return s.found[0], nil
	}
	for _, c := range s.found {
		_ = c.Close() // nothing has been done with it
	}
	return nil, s.explain(label)
}

// survey is a look at every chip.
type survey struct {
	seen   map[string]bool // by the kernel's own name, which is the same through every link
	labels []string        // for people
	denied []string        // nodes that may not be opened
	broken []error
	found  []*Chip
}

// look opens a node and notes what it is. Whatever is wrong with one node does not keep the others from being looked at:
// a dangling link must not stop a bench whose chip is there.
func (s *survey) look(k Kernel, node, label string) {
	d, err := k.Open(node)
	if errors.Is(err, fs.ErrPermission) {
		s.denied = append(s.denied, node)
		return
	}
	if err != nil {
		s.broken = append(s.broken, fmt.Errorf("%s: %w", node, err))
		return
	}
	info, err := d.Info()
	switch {
	case err != nil:
		s.broken = append(s.broken, fmt.Errorf("%s: %w", node, err))
	case s.seen[info.Name]:
	default:
		s.seen[info.Name] = true
		s.labels = append(s.labels, fmt.Sprintf("%s %q", info.Name, info.Label))
		if info.Label == label {
			s.found = append(s.found, &Chip{node: node, device: d, info: info})
			return
		}
	}
	_ = d.Close() // only looked at
}

// explain says why there is not exactly one chip with the label. A missing permission comes before "no such label",
// because the chip that is meant is most likely the one that could not be looked at.
func (s *survey) explain(label string) error {
	there := "there are " + strings.Join(s.labels, ", ")
	if len(s.labels) == 0 {
		there = "no chip could be looked at"
	}
	switch {
	case len(s.found) > 1:
		return fmt.Errorf("%d GPIO chips are labelled %q (%s): it cannot be told which is meant", len(s.found), label, there)
	case len(s.denied) > 0:
		return fmt.Errorf("%s may not be opened by this user (%s): add the user to the group gpio "+
			"(sudo usermod -aG gpio USER, then log in anew), or let the service run in it: %w",
			strings.Join(s.denied, ", "), there, fs.ErrPermission)
	case len(s.broken) > 0:
		return fmt.Errorf("no GPIO chip is labelled %q (%s); some did not answer: %w", label, there, errors.Join(s.broken...))
	case len(s.labels) == 0:
		return fmt.Errorf("this computer has no GPIO chip (looked for %q): run this on the board that the bench is wired to",
			label)
	}
	return fmt.Errorf("no GPIO chip is labelled %q; %s: write the label of the one that the bench is wired to", label, there)
}

// Label returns the chip's label.
func (c *Chip) Label() string { return c.info.Label }

// Lines returns how many lines the chip has.
func (c *Chip) Lines() int { return c.info.Lines }

// Close lets go of the chip. Lines that were claimed stay claimed until they are closed themselves.
func (c *Chip) Close() error { return c.device.Close() }

// Info asks the kernel about a line: direction, polarity, pull, holder. It changes nothing and works on lines that
// others hold.
func (c *Chip) Info(offset int) (LineInfo, error) {
	if offset < 0 || offset >= c.info.Lines {
		return LineInfo{}, fmt.Errorf("%s has the lines 0 to %d, not %d", c.info.Label, c.info.Lines-1, offset)
	}
	info, err := c.device.Line(offset)
	if err != nil {
		return LineInfo{}, fmt.Errorf("line %d of %s cannot be asked about: %w%s", offset, c.info.Label, err, old(err))
	}
	return info, nil
}

// Line finds a line by its name, by its offset, or by both. Pass "" for no name and -1 for no offset.
//
// A name that several lines bear is refused. Where both are given and the kernel knows the name, they must agree; where
// it does not know the name, the offset counts: the common header numbers its lines like the chip's offsets, but kernels
// name some of them after their second use. Pass -1 to insist on the kernel's name.
func (c *Chip) Line(name string, offset int) (int, error) {
	if name == "" {
		_, err := c.Info(offset)
		return offset, err
	}
	var bear []int
	for o := range c.info.Lines {
		info, err := c.Info(o)
		if err != nil {
			return -1, err
		}
		if info.Name == name {
			bear = append(bear, o)
		}
	}
	switch {
	case len(bear) > 1:
		return -1, fmt.Errorf("the lines %s of %s are all named %q: give the offset instead",
			strings.Trim(fmt.Sprint(bear), "[]"), c.info.Label, name)
	case len(bear) == 0 && offset < 0:
		return -1, fmt.Errorf("no line of %s is named %q: give its offset, 0 to %d", c.info.Label, name, c.info.Lines-1)
	case len(bear) == 0:
		_, err := c.Info(offset)
		return offset, err
	case offset >= 0 && offset != bear[0]:
		return -1, fmt.Errorf("%s calls line %d %q, but line %d was meant: is this the right chip?",
			c.info.Label, bear[0], name, offset)
	}
	return bear[0], nil
}

// request claims a line for a role of the bench ("pump"). Whether it is free is for the kernel to say, in the claim
// itself: a question beforehand would leave a gap. Who holds it is asked afterwards.
func (c *Chip) request(role string, r Request) (Held, error) {
	r.Consumer = consumer(role)
	info, err := c.Info(r.Offset)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", role, err)
	}
	held, err := c.device.Request(r)
	if err == nil {
		return held, nil
	}
	// A line may be in use without being busy to the kernel: where pins are shared out strictly, it says "invalid".
	if now, asked := c.Info(r.Offset); asked == nil {
		info = now // the holder may have come after our first question
	}
	if errors.Is(err, syscall.EBUSY) || info.Flags&FlagUsed != 0 {
		return nil, fmt.Errorf("%s: %s: %w", role, taken(c.info.Label, info), err)
	}
	return nil, fmt.Errorf("%s: line %d of %s cannot be claimed: %w%s", role, r.Offset, c.info.Label, err, old(err))
}

// taken says who holds a line, and what to do about it. Our own name is told apart, because the way out is another: two
// runs on one bench are a mistake of the person, a foreign holder one of the board's settings.
func taken(label string, info LineInfo) string {
	where := fmt.Sprintf("line %d of %s", info.Offset, label)
	if info.Name != "" {
		where = fmt.Sprintf("line %d (%s) of %s", info.Offset, info.Name, label)
	}
	switch {
	case info.Consumer == "":
		return where + " is taken by something that gives no name: often an overlay that uses this pin; " +
			"take that out of the boot settings or take another line"
	case strings.HasPrefix(info.Consumer, prefix):
		return fmt.Sprintf("%s is held by %q, another run of this program: end that first", where, info.Consumer)
	}
	return fmt.Sprintf("%s is held by %q: end that program, take its overlay out of the boot settings, or take another line",
		where, info.Consumer)
}

// prefix begins the label of every line that this program holds, in any of its processes.
const prefix = "fullery "

// consumer makes the label that others read. The kernel keeps 31 bytes; no letter is cut in two.
func consumer(role string) string {
	label := prefix + role
	for len(label) > 31 {
		_, size := utf8.DecodeLastRuneInString(label)
		label = label[:len(label)-size]
	}
	return label
}

// old explains the answer of a kernel that does not know the requests.
func old(err error) string {
	if errors.Is(err, syscall.ENOTTY) {
		return " (a kernel older than 5.10 does not know this request: update it)"
	}
	return ""
}
