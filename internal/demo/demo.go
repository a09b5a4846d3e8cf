// Package demo writes an invented denture service as an ordinary case bundle:
// three hillside clinics, fifteen clinicians, three laboratories, records taken in
// 2022 to 2024 and followed to an export on 2025-06-30. Every person, place and
// number in it is invented. Rates lie near published ones so that pages look
// plausible, and Story says which habits were planted with which effect.
package demo

import (
	"context"
	"fmt"
	"io"
	"os"
	"time"
)

// DefaultCases and DefaultSeed are what a zero Options stands for.
const (
	DefaultCases        = 4000
	DefaultSeed  uint64 = 20220103
)

// Options says how much to invent. The same options give the same bytes.
type Options struct {
	Cases    int    // number of cases; 0 = DefaultCases, negative is refused
	Seed     uint64 // 0 = DefaultSeed
	Services int    // of fifteen clinicians and three sites each; 0 = as many as the cases ask for
	Parquet  bool   // the tables as Parquet instead of CSV
	// Progress, where there is one, is told now and then how many cases are written.
	Progress func(done, total int64)
}

const manifest = `name = "Invented hillside denture service"
basis = "consented_local"
invented = true
complete = true
`

// Write writes the bundle's eight CSV files and bundle.toml into dir, which it makes
// if need be, and overwrites files of those names; with opt.Parquet the tables become
// Parquet files with the contract's types. Memory does not grow with the number of
// cases. A bundle of n cases begins with the rows of any smaller one of the same seed
// and number of services. On error or when ctx ends, nothing of the new bundle remains.
func Write(ctx context.Context, dir string, opt Options) error {
	if opt.Cases < 0 {
		return fmt.Errorf("cannot invent %d cases: give a positive number", opt.Cases)
	}
	if opt.Cases == 0 {
		opt.Cases = DefaultCases
	}
	if opt.Seed == 0 {
		opt.Seed = DefaultSeed
	}
	if opt.Services <= 0 {
		opt.Services = servicesFor(opt.Cases)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f := &folder{dir: dir}
	err := fill(ctx, f, opt)
	if err == nil && opt.Parquet {
		err = f.toParquet(ctx)
	}
	if err != nil {
		f.discard()
		return fmt.Errorf("demo bundle in %s: %w", dir, err)
	}
	if err := f.commit(); err != nil {
		f.discard()
		return fmt.Errorf("demo bundle in %s: %w", dir, err)
	}
	return nil
}

// fill writes every file of the bundle under its temporary name.
func fill(ctx context.Context, f *folder, opt Options) error {
	out, err := newSheets(func(table string) (io.Writer, error) { return f.create(table + csvEnd) })
	if err != nil {
		return err
	}
	toml, err := f.create("bundle.toml")
	if err != nil {
		return err
	}
	if _, err := io.WriteString(toml, manifest); err != nil {
		return err
	}
	return generate(ctx, out, opt)
}

// patientsPerCheck is how many patients are written between looks at the context.
const patientsPerCheck = 512

func generate(ctx context.Context, out *sheets, opt Options) error {
	g := &generator{dice: newDice(), out: out, staff: staffOf(opt.Services), limit: opt.Cases}
	for p := 1; g.cases < opt.Cases; p++ {
		if p%patientsPerCheck == 1 {
			if err := ctx.Err(); err != nil {
				return err
			}
			if opt.Progress != nil {
				opt.Progress(int64(g.cases), int64(opt.Cases))
			}
			if err := out.firstError(); err != nil {
				return err
			}
		}
		g.seed(opt.Seed, uint64(p))
		g.patient(p)
	}
	return out.flush()
}

// The calendar of the scenario, in days from 2022-01-01.
var (
	firstDay  = time.Date(2022, 1, 1, 0, 0, 0, 0, time.UTC)
	lastStart = dayOf(2024, 12, 31)
	exportDay = dayOf(2025, 6, 30)
	months    = monthNames()
)

func dayOf(year, month, day int) int {
	return int(time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Sub(firstDay).Hours() / 24)
}

// monthNames gives YYYY-MM for every day on which records can be taken.
func monthNames() []string {
	names := make([]string, lastStart+1)
	for i := range names {
		names[i] = firstDay.AddDate(0, 0, i).Format("2006-01")
	}
	return names
}
