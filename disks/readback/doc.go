// Package readback holds what came back from one reading of one disk: which sectors were read, and how the readings of
// several rounds become one image.
//
// It is pure: it reads from an io.Reader, writes to an io.Writer, and knows neither files nor clocks nor the record.
//
// # Formats
//
// A format is written as cylinders x heads x sectors x bytes, with the size of the cartridge before it where that is
// known and what is unusual behind it:
//
//	90 mm 80x2x18x512
//	200 mm 77x2x26x256, first track 26x128
//	80x2x10x512, sectors from 0
//
// Cylinders and heads are numbered from 0, sectors from 1 unless the format says otherwise. There is no other meaning
// of a number anywhere in the package, except that an LBA, as always, counts the sectors of a disk from 0.
//
// # Tables
//
// A table is CSV with a header. Either it has a row for each sector,
//
//	cylinder,head,sector,state
//	0,0,1,good
//	0,0,2,bad
//
// with the state good (read without error), bad (found, but its data did not check), missing (not found on its track) or
// untried; or, where only counts are at hand, a row for each track, with how many of its sectors were not read:
//
//	cylinder,head,missing
//	0,0,1
//	0,1,untried
//
// A sector or track without a row is untried, which is not bad: nothing is known of it. Columns and rows may be in any
// order, and everything that a spreadsheet does to such a file is taken: commas, semicolons or tabs, any line ends, the
// mark of UTF-8, quoted cells, upper case, empty lines and cells around the table. Lines that begin with # are remarks.
// What cannot be understood without a guess is refused, with its place, and then nothing of the file is taken.
//
// # Images
//
// An image is flat: the bytes of all sectors in the order of their cylinders, then heads, then sector numbers, with
// nothing between. It says nothing of which sectors are good. So an image without a table is of no use, and one whose
// size is not that of the format is refused, because every address in it would be wrong.
//
// # Joining
//
// For each sector there are the copies of all readings that have an image and call it good. Copies that agree are taken.
// Where they differ, the copy of more than half of them is taken if there are at least three; otherwise the sector is
// disputed, listed, and never chosen. Sectors without a choice are filled with words that say so (Fill). The result has a
// table, and says for each sector from which round it came: of those that agree, the one with the lowest number.
//
// All readings that agree count as witnesses of the same weight, so that each may be given only once: neither a copy of
// it, nor an image that was joined from it.
package readback
