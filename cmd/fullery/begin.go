package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"fullery/disks/record"
)

// A cycle is in the record before it is on the bench.

// openRecord opens the record, or sets a damaged one aside if the person asked for that.
func (j *job) openRecord(ctx context.Context) (err error) {
	path := j.flags.record
	if path == "" {
		path = filepath.Join(dataFolder(), "fullery.db")
	}
	if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() {
		if info, err = os.Stat(path); err != nil || !info.Mode().IsRegular() {
			return said(statusUsage, "%s is not a file that can hold a record: name another with --record", path)
		}
	}
	j.record, err = record.Open(ctx, path)
	if j.flags.freshRecord && (errors.Is(err, record.ErrDamaged) || errors.Is(err, record.ErrNotRecord)) {
		j.record, err = freshRecord(ctx, path)
	}
	if errors.Is(err, record.ErrDamaged) {
		err = fmt.Errorf("%w To set it aside and begin a new one, add --fresh-record", err)
	}
	if err != nil {
		return withStatus(statusUsage, err)
	}
	j.closers = append(j.closers, j.record.Close)
	if err := record.CheckSpace(path); err != nil {
		return withStatus(statusPersonal, err)
	}
	return nil
}

// freshRecord sets a record aside. The person who asked for it knows, so what it raises is acknowledged.
func freshRecord(ctx context.Context, path string) (*record.Record, error) {
	rec, aside, err := record.OpenFresh(ctx, path, time.Now())
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(os.Stderr, "The damaged record lies in %s now; a new one was begun.\n", aside)
	list, err := rec.Attentions(ctx)
	for _, a := range list {
		err = errors.Join(err, rec.Acknowledge(ctx, a.ID, "the person who ran --fresh-record", time.Now()))
	}
	return rec, err
}

// beginRecord writes the start of the cycle. When it returns, power may fail: the record knows.
func (j *job) beginRecord(ctx context.Context) error {
	r, wall := j.program.Recipe(), time.Now()
	start := record.Start{
		Disk: j.flags.disk, Bench: j.bench.Name, BenchText: j.bench.Text, Simulated: j.bench.Simulated,
		Recipe: r.Name, RecipeTitle: r.Title, RecipeText: r.Text, Liquid: r.Liquid, Rinse: r.Rinse,
		Flammable: burning(r), Program: version(), BootID: bootID(), Wall: wall, Mono: sinceBoot(), ClockSet: clockSet(wall),
	}
	for _, s := range j.program.Stages() {
		start.Stages = append(start.Stages, record.Planned{Do: s.Do.String(), For: s.Planned, AtMost: s.AtMost})
	}
	if j.cut != nil {
		start.Resolve = &record.Resolution{Cycle: j.cut.Number, Choice: record.Choice(j.flags.cut), By: "operator", Wall: wall}
	}
	err := j.acknowledge(ctx)
	if j.flags.changedOver && err == nil {
		err = j.record.PutChangeover(ctx, record.Changeover{Bench: j.bench.Name, Liquid: r.Liquid, Flammable: burning(r) != "",
			By: "operator", Wall: wall})
	}
	if err == nil {
		j.cycle, err = j.record.Begin(ctx, start)
	}
	if err != nil {
		status := statusUsage
		if errors.Is(err, record.ErrAttention) {
			err = fmt.Errorf("%w That is: run --acknowledge", err)
		}
		if errors.Is(err, record.ErrAttention) || errors.Is(err, record.ErrCutShort) {
			status = statusPersonal
		}
		return withStatus(status, err)
	}
	j.closers = append(j.closers, j.cycle.Close)
	return nil
}

// acknowledge notes that the person has read what the record asks to be read.
func (j *job) acknowledge(ctx context.Context) error {
	if !j.flags.acknowledge {
		return nil
	}
	list, err := j.record.Attentions(ctx)
	for _, a := range list {
		err = errors.Join(err, j.record.Acknowledge(ctx, a.ID, "operator", time.Now()))
	}
	return err
}
