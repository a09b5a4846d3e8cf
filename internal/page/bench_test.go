package page

import (
	"io"
	"testing"
)

func BenchmarkPack(b *testing.B)    { benchmark(b, "pack") }
func BenchmarkSummary(b *testing.B) { benchmark(b, "summary") }

func benchmark(b *testing.B, name string) {
	write := pages()[name]
	for b.Loop() {
		if err := write(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
