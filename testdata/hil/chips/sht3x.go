package chips

import "time"

// SHT3x measures humidity and temperature (data sheet SHT3x-DIS, version 7). It answers each measurement with two words,
// each followed by a checksum.
type SHT3x struct {
	Sense  Sense
	Serial uint32

	corrupt bool
	answer  []byte        // what the next read gives
	ready   time.Duration // before this a read is refused
	every   time.Duration // between measurements of the periodic mode; 0: single shots
	since   time.Duration // when the periodic mode last had a new pair
	status  uint16
	limits  map[uint16]uint16 // of the alerts, by the command that reads them
}

// durations of a measurement by the low byte of its command: the three repeatabilities, longest first (table 4).
var shtDurations = map[uint16]time.Duration{0x00: 15, 0x0b: 6, 0x16: 4}

// periods of the periodic mode by the high byte of its command (table 10).
var shtPeriods = map[uint16]time.Duration{0x20: 2000, 0x21: 1000, 0x22: 500, 0x23: 250, 0x27: 100}

// Quantities names temperature and relative humidity.
func (s *SHT3x) Quantities() []string { return []string{"celsius", "percent"} }

// Corrupt spoils the checksums.
func (s *SHT3x) Corrupt(wrong bool) { s.corrupt = wrong }

// Power resets the chip: the status tells of it, and the alerts have their usual limits.
func (s *SHT3x) Power() {
	s.answer, s.ready, s.every, s.status = nil, 0, 0, 0x8010
	s.limits = map[uint16]uint16{0xe11f: 0xc92d, 0xe114: 0x3869, 0xe109: 0x3466, 0xe102: 0xcd33}
}

// Write takes a command of two bytes.
func (s *SHT3x) Write(b []byte, now time.Duration) bool {
	if len(b) < 2 {
		return len(b) == 0 // a lone address is answered
	}
	command := uint16(b[0])<<8 | uint16(b[1])
	s.answer, s.ready = nil, 0
	switch high := command >> 8; {
	case high == 0x24: // single shot; reads are refused until it is done
		s.measure(now)
		s.ready = now + shtDurations[command&0xff]*time.Millisecond
	case high == 0x2c: // the same, the clock held meanwhile; the hold itself is not modelled
		s.measure(now)
	case shtPeriods[high] > 0:
		s.every, s.since = shtPeriods[high]*time.Millisecond, now
	default:
		return s.other(command, now)
	}
	return true
}

func (s *SHT3x) other(command uint16, now time.Duration) bool {
	switch command {
	case 0x2b32: // the faster periodic mode
		s.every, s.since = 250*time.Millisecond, now
	case 0x3093: // break
		s.every = 0
	case 0xe000: // fetch what the periodic mode has; each pair is given once
		if s.every == 0 || now < s.since+s.every {
			return true // and the read is refused
		}
		s.since += (now - s.since) / s.every * s.every
		s.measure(now)
	case 0x30a2:
		s.Power()
	case 0x3041:
		s.status &^= 0xac13 // the bits that this command clears
	case 0x306d:
		s.status |= 0x2000
	case 0x3066:
		s.status &^= 0x2000
	case 0xf32d:
		s.answer = s.words(s.status)
	case 0x3780, 0x3682: // serial number, with and without holding the clock
		s.answer = s.words(uint16(s.Serial>>16), uint16(s.Serial))
	default:
		limit, ok := s.limits[command]
		if !ok {
			s.status |= 0x0002 // the last command was not understood
			return true
		}
		s.answer = s.words(limit)
	}
	return true
}

// measure holds what the chip feels at the start of the measurement.
func (s *SHT3x) measure(now time.Duration) {
	temperature := clamp((s.Sense("celsius", now)+45)/175*65535, 0, 65535)
	humidity := clamp(s.Sense("percent", now)/100*65535, 0, 65535)
	s.answer = s.words(uint16(temperature), uint16(humidity))
}

// Read gives the answer to the last command, or refuses while there is none.
func (s *SHT3x) Read(n int, now time.Duration) ([]byte, bool) {
	if s.answer == nil || now < s.ready {
		return nil, false
	}
	out := fill(n, s.answer)
	s.answer = nil
	return out, true
}

// words puts a checksum behind each word.
func (s *SHT3x) words(words ...uint16) []byte {
	var out []byte
	for _, w := range words {
		pair := []byte{byte(w >> 8), byte(w)}
		sum := crc8(pair)
		if s.corrupt {
			sum ^= 0x5a
		}
		out = append(append(out, pair...), sum)
	}
	return out
}

// crc8 is the checksum of section 4.12: polynomial 0x31, beginning with ones.
func crc8(b []byte) byte {
	sum := byte(0xff)
	for _, x := range b {
		sum ^= x
		for range 8 {
			carry := sum&0x80 != 0
			if sum <<= 1; carry {
				sum ^= 0x31
			}
		}
	}
	return sum
}
