package main

import (
	"strconv"
	"unicode"
	"unicode/utf8"
)

// parsePace reads --fast.
func (j *job) parsePace() error {
	switch j.flags.fast {
	case "":
		j.times = 1
		return nil
	case asFastAsCan:
		return nil
	}
	const most = 1e6
	x, err := strconv.ParseFloat(j.flags.fast, 64)
	if err != nil || !(x >= 1 && x <= most) {
		return said(statusUsage, "--fast=%s is no pace: write how many times as fast as real time, 1 to %.0f, as in --fast=50, "+
			"or --fast alone", j.flags.fast, most)
	}
	j.times = x
	return nil
}

// checkLabel refuses a disk's label that could not be written on a sticker, or would disturb a terminal.
func checkLabel(label string) error {
	const most = 64
	if n := utf8.RuneCountInString(label); n > most || !utf8.ValidString(label) {
		return said(statusUsage, "the label of a disk has %d characters at most, and this one has %d", most, n)
	}
	for _, r := range label {
		if !unicode.IsPrint(r) {
			return said(statusUsage, "the label %q has a character that cannot be printed: use letters, digits and signs", label)
		}
	}
	return nil
}
