package cli

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// progress shows one bar per stage on a terminal and nothing elsewhere.
type progress struct {
	p     *mpb.Progress
	bar   *mpb.Bar
	stage string
}

// newProgress draws on errw when it is a terminal and the user did not ask for quiet.
func (a *app) newProgress() *progress {
	var w io.Writer
	if f, ok := a.err.(*os.File); ok && !a.quiet && isTerminal(f) {
		w = f
	}
	return &progress{p: mpb.New(mpb.WithOutput(w), mpb.WithWidth(40))}
}

func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// step moves the named stage of a load to done of total.
func (p *progress) step(stage string, done, total int64) { p.show(stageWords(stage), done, total) }

// review tells how far the questions of a review are.
func (p *progress) review(stage string, done, total int) { p.show(stage, int64(done), int64(total)) }

// show moves what the words name to done of total, starting a bar for new words.
func (p *progress) show(words string, done, total int64) {
	if p.bar == nil || words != p.stage {
		p.end()
		p.stage = words
		p.bar = p.p.New(total, mpb.BarStyle(), mpb.PrependDecorators(decor.Name(fmt.Sprintf("%-26s", words))),
			mpb.AppendDecorators(decor.CountersNoUnit("%d of %d"), decor.Any(timeLeft(time.Now()))), mpb.BarRemoveOnComplete())
	}
	p.bar.SetTotal(total, false)
	p.bar.SetCurrent(done)
}

// timeLeft says how long a stage will take at the pace it had since its start; at
// the start nothing is known.
func timeLeft(start time.Time) decor.DecorFunc {
	return func(s decor.Statistics) string {
		if s.Current <= 0 || s.Current > s.Total {
			return ""
		}
		left := time.Duration(float64(time.Since(start)) / float64(s.Current) * float64(s.Total-s.Current))
		return ", " + left.Round(time.Second).String() + " left"
	}
}

// stageWords says what a stage does, and what it counts.
func stageWords(stage string) string {
	switch stage {
	case "reading":
		return "reading tables"
	case "typing":
		return "reading rows"
	case "turning":
		return "turning tables"
	}
	return stage + " rows"
}

// end closes the running bar.
func (p *progress) end() {
	if p.bar != nil {
		p.bar.Abort(true)
		p.bar = nil
	}
}

// wait ends the display; the terminal is clean afterwards.
func (p *progress) wait() {
	p.end()
	p.p.Wait()
}
