package cli

import (
	"io"
	"os"

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

// step moves the named stage to done of total, starting a bar for a new stage.
func (p *progress) step(stage string, done, total int64) {
	if p.bar == nil || stage != p.stage {
		p.end()
		p.stage = stage
		p.bar = p.p.New(total, mpb.BarStyle(), mpb.PrependDecorators(decor.Name(stage+" ")),
			mpb.AppendDecorators(decor.CountersNoUnit("%d / %d "), decor.AverageETA(decor.ET_STYLE_GO)), mpb.BarRemoveOnComplete())
	}
	p.bar.SetTotal(total, false)
	p.bar.SetCurrent(done)
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
