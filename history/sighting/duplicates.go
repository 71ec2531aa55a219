package sighting

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
)

// DuplicateCount is how many sighting records say the same as another.
type DuplicateCount struct {
	// Read is the number of records, Duplicates how many of them repeat an
	// earlier one exactly: same tag, site, antenna and instant. Records whose
	// tag or time cannot be read are not compared.
	Read, Duplicates int64
	// Example is the first duplicate and First the record it repeats, as
	// file:line; "" without duplicates.
	Example, First string
}

// partitions is how many files on disk the records are dealt out to, so that
// one of them fits the memory.
const partitions = 128

// digest stands for a record in a partition.
type digest struct {
	Hash [2]uint64
	Pos  int64
}

const digestSize = 24

// Duplicates counts the exact duplicates among a study's sightings. The
// records are dealt out to temporary files by their content, 24 bytes each,
// which are then looked at one by one.
func Duplicates(ctx context.Context, st *study.Study, fish *fishtable.Table, opt Options) (count *DuplicateCount, err error) {
	r, err := prepare(st, fish, opt)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp(opt.Temp, "unseen-duplicates-")
	if err != nil {
		return nil, fmt.Errorf("no room for temporary files: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	parts := make([]partition, partitions)
	defer func() {
		for i := range parts {
			parts[i].shut()
		}
	}()
	for i := range parts {
		if err := parts[i].open(filepath.Join(dir, fmt.Sprint(i))); err != nil {
			return nil, fmt.Errorf("no room for temporary files: %w", err)
		}
	}
	seeds := [2]maphash.Seed{maphash.MakeSeed(), maphash.MakeSeed()}
	r.observe = func(c *reader, rec *record, at int64) {
		if rec.rule >= rule.Unreadable && rec.rule <= rule.BadTime {
			return
		}
		d := digest{Pos: at}
		for i := range d.Hash {
			d.Hash[i] = hashRecordWith(seeds[i], c, rec)
		}
		parts[d.Hash[0]%partitions].add(&d)
	}
	if err := r.readAll(ctx); err != nil {
		return nil, err
	}
	count = &DuplicateCount{Read: r.total.records}
	var example, first tally
	for i := range parts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		all, err := parts[i].read()
		if err != nil {
			return nil, fmt.Errorf("the temporary files cannot be read: %w", err)
		}
		slices.SortFunc(all, func(a, b digest) int {
			return cmp.Or(cmp.Compare(a.Hash[0], b.Hash[0]), cmp.Compare(a.Hash[1], b.Hash[1]), cmp.Compare(a.Pos, b.Pos))
		})
		start := 0
		for k := 1; k < len(all); k++ {
			if all[k].Hash != all[start].Hash {
				start = k
				continue
			}
			count.Duplicates++
			if example.n == 0 || all[k].Pos < example.first {
				example, first = tally{1, all[k].Pos}, tally{1, all[start].Pos}
			}
		}
	}
	count.Example, count.First = r.at(example), r.at(first)
	return count, nil
}

func hashRecordWith(seed maphash.Seed, c *reader, rec *record) uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	var b [16]byte
	binary.LittleEndian.PutUint64(b[:], rec.tagKey)
	binary.LittleEndian.PutUint64(b[8:], uint64(rec.ms))
	h.Write(b[:])
	h.Write(bytes.TrimSpace(c.siteOf(rec)))
	h.WriteByte(0)
	h.Write(bytes.TrimSpace(c.antennaOf(rec)))
	return h.Sum64()
}

// partition is one temporary file, written by many.
type partition struct {
	mu   sync.Mutex
	file *os.File
	w    *bufio.Writer
	n    int
	err  error
}

func (p *partition) open(path string) (err error) {
	p.file, err = os.Create(path)
	if err == nil {
		p.w = bufio.NewWriterSize(p.file, 16<<10)
	}
	return err
}

func (p *partition) add(d *digest) {
	var b [digestSize]byte
	binary.LittleEndian.PutUint64(b[:], d.Hash[0])
	binary.LittleEndian.PutUint64(b[8:], d.Hash[1])
	binary.LittleEndian.PutUint64(b[16:], uint64(d.Pos))
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, err := p.w.Write(b[:]); err != nil && p.err == nil {
		p.err = err
	}
	p.n++
}

func (p *partition) read() ([]digest, error) {
	if err := cmp.Or(p.err, p.w.Flush()); err != nil {
		return nil, err
	}
	if _, err := p.file.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	out := make([]digest, p.n)
	return out, binary.Read(bufio.NewReaderSize(p.file, 64<<10), binary.LittleEndian, out)
}

func (p *partition) shut() {
	if p.file != nil {
		p.file.Close()
	}
}
