package chips

import "time"

// PCA9685 drives sixteen outputs by PWM (data sheet revision 4). What it drives is a wire like any other: Notify hears of
// each change.
type PCA9685 struct {
	Notify func(channel, level int) // level: counts on of the 4096 of a period

	pointer byte
	regs    [256]byte
	levels  [16]int
}

const (
	pcaMode1, pcaMode2, pcaFirst, pcaAll, pcaPrescale = 0x00, 0x01, 0x06, 0xfa, 0xfe
	pcaSleep, pcaIncrement                            = 1 << 4, 1 << 5
	pcaFull                                           = 1 << 4 // in a high byte: fully on, or fully off
)

// Quantities is empty: the chip feels nothing.
func (c *PCA9685) Quantities() []string { return nil }

// Power resets the chip: asleep, every channel fully off.
func (c *PCA9685) Power() {
	c.regs, c.pointer = [256]byte{}, 0
	c.regs[pcaMode1], c.regs[pcaMode2], c.regs[pcaPrescale] = 0x11, 0x04, 0x1e
	for channel := range 16 {
		c.regs[pcaFirst+4*channel+3] = pcaFull
	}
	c.drive()
}

// Write takes a register's number and bytes; they go to one register after the other only when that was switched on. The
// outputs change at the end of the message.
func (c *PCA9685) Write(b []byte, _ time.Duration) bool {
	if len(b) == 0 {
		return true
	}
	c.pointer = b[0]
	for _, value := range b[1:] {
		c.set(c.pointer, value)
		c.next()
	}
	c.drive()
	return true
}

func (c *PCA9685) next() {
	if c.regs[pcaMode1]&pcaIncrement == 0 {
		return
	}
	if c.pointer++; c.pointer == pcaFirst+64 { // behind the last channel it begins again
		c.pointer = pcaMode1
	}
}

func (c *PCA9685) set(register, value byte) {
	switch {
	case register >= pcaAll && register < pcaPrescale: // the same for all channels
		for channel := range 16 {
			c.regs[pcaFirst+4*channel+int(register-pcaAll)] = value
		}
	case register == pcaPrescale:
		if c.regs[pcaMode1]&pcaSleep != 0 { // refused while it runs
			c.regs[register] = max(value, 3)
		}
	case register == pcaMode1:
		c.regs[register] = value &^ 0x80 // restarting: the bit clears itself
	case register < pcaFirst+64:
		c.regs[register] = value
	}
}

// drive finds out what each channel gives now.
func (c *PCA9685) drive() {
	for channel := range 16 {
		level := c.level(channel)
		if level != c.levels[channel] && c.Notify != nil {
			c.Notify(channel, level)
		}
		c.levels[channel] = level
	}
}

// level is the share of the period that a channel is on. Fully off comes before fully on; asleep there is no PWM.
func (c *PCA9685) level(channel int) int {
	r := c.regs[pcaFirst+4*channel : pcaFirst+4*channel+4]
	switch {
	case r[3]&pcaFull != 0:
		return 0
	case r[1]&pcaFull != 0:
		return 4096
	case c.regs[pcaMode1]&pcaSleep != 0:
		return 0
	}
	on, off := int(r[0])|int(r[1]&15)<<8, int(r[2])|int(r[3]&15)<<8
	return (off - on + 4096) % 4096
}

// Level is what a channel gives, of 4096.
func (c *PCA9685) Level(channel int) int { return c.levels[channel] }

// Read gives the registers from the pointer on.
func (c *PCA9685) Read(n int, _ time.Duration) ([]byte, bool) {
	out := make([]byte, n)
	for i := range out {
		out[i] = c.regs[c.pointer]
		c.next()
	}
	return out, true
}
