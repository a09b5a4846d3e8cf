package blank

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"hash"
	"hash/crc32"
	"io"
	"io/fs"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"
)

// orderedZip writes a workbook's parts in the order of their names and without a
// clock. The workbook library hands over streamed sheets in the order of a map, which
// changes from run to run. Parts wait compressed until Close.
type orderedZip struct {
	out   io.Writer
	parts []*part
}

type part struct {
	name   string
	packed bytes.Buffer
	pack   *flate.Writer
	sum    hash.Hash32
	size   uint64
}

func newOrderedZip(out io.Writer) excelize.ZipWriter { return &orderedZip{out: out} }

// Create starts a part; it ends with the next one or with Close.
func (z *orderedZip) Create(name string) (io.Writer, error) {
	p := &part{name: name, sum: crc32.NewIEEE()}
	var err error
	if p.pack, err = flate.NewWriter(&p.packed, flate.DefaultCompression); err != nil {
		return nil, err
	}
	z.parts = append(z.parts, p)
	return p, nil
}

func (p *part) Write(b []byte) (int, error) {
	n, err := p.pack.Write(b)
	p.size += uint64(n)
	_, _ = p.sum.Write(b[:n]) // a hash never fails
	return n, err
}

// AddFS is part of the library's interface; nothing here adds a folder.
func (z *orderedZip) AddFS(fs.FS) error { return errors.ErrUnsupported }

// Close writes the archive.
func (z *orderedZip) Close() error {
	slices.SortFunc(z.parts, func(a, b *part) int { return strings.Compare(a.name, b.name) })
	w := zip.NewWriter(z.out)
	for _, p := range z.parts {
		if err := p.pack.Close(); err != nil {
			return err
		}
		raw, err := w.CreateRaw(&zip.FileHeader{Name: p.name, Method: zip.Deflate, CRC32: p.sum.Sum32(), CompressedSize64: uint64(p.packed.Len()), UncompressedSize64: p.size})
		if err != nil {
			return err
		}
		if _, err := raw.Write(p.packed.Bytes()); err != nil {
			return err
		}
	}
	return w.Close()
}
