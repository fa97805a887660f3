package sensors

import "fmt"

// CRC8 is the checksum that humidity sensors put behind every word: polynomial x⁸+x⁵+x⁴+1 (0x31), beginning with 0xFF,
// nothing reflected, nothing inverted at the end (data sheet SHT3x-DIS, section 4.12, table 20).
func CRC8(b []byte) byte {
	sum := byte(0xFF)
	for _, x := range b {
		sum ^= x
		for range 8 {
			carry := sum&0x80 != 0
			sum <<= 1
			if carry {
				sum ^= 0x31
			}
		}
	}
	return sum
}

// CheckedWord returns the word in three bytes: two of data, the higher first, and their CRC8. Up to three wrong bits are
// always found: the polynomial has the factor x+1, which finds every odd number, and its period of 127 bits is longer
// than the 24 here, which finds every two. The error is ErrChecksum, with the bytes as they came.
func CheckedWord(b []byte) (uint16, error) {
	if len(b) != 3 {
		return 0, fmt.Errorf("%w: %d bytes (% X) where a word and its checksum are 3", ErrChecksum, len(b), b)
	}
	if want := CRC8(b[:2]); want != b[2] {
		return 0, fmt.Errorf("%w: % X should end in %02X", ErrChecksum, b, want)
	}
	return uint16(b[0])<<8 | uint16(b[1]), nil
}
