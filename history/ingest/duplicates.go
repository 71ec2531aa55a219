package ingest

import (
	"bufio"
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
	hash [2]uint64
	pos  int64
}

const digestSize = 24

// Duplicates counts the exact duplicates among a study's sightings. The
// records are dealt out to temporary files by their content, 24 bytes each,
// which are then looked at one by one.
func Duplicates(ctx context.Context, st *study.Study, opt Options) (count *DuplicateCount, err error) {
	if st.Sightings == nil {
		return nil, errors.New("the study has no [sightings] to look for duplicates in")
	}
	r, err := prepare(ctx, st, opt)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "unseen-duplicates-")
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
	r.also = func(c *cases, rec *record, at int64) {
		if rec.rule >= rule.Unreadable && rec.rule <= rule.BadTime {
			return
		}
		d := digest{pos: at}
		for i := range d.hash {
			d.hash[i] = hashRecordWith(seeds[i], c, rec)
		}
		parts[d.hash[0]%partitions].add(&d)
	}
	if err := r.readAll(ctx); err != nil {
		return nil, err
	}
	count = &DuplicateCount{Read: r.total.records}
	example, first := int64(noPos), int64(noPos)
	for i := range parts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		all, err := parts[i].read()
		if err != nil {
			return nil, fmt.Errorf("the temporary files cannot be read: %w", err)
		}
		slices.SortFunc(all, func(a, b digest) int {
			return cmp.Or(cmp.Compare(a.hash[0], b.hash[0]), cmp.Compare(a.hash[1], b.hash[1]), cmp.Compare(a.pos, b.pos))
		})
		start := 0
		for k := 1; k < len(all); k++ {
			if all[k].hash != all[start].hash {
				start = k
				continue
			}
			count.Duplicates++
			if all[k].pos < example {
				example, first = all[k].pos, all[start].pos
			}
		}
	}
	count.Example, count.First = r.at(example), r.at(first)
	return count, nil
}

func hashRecordWith(seed maphash.Seed, c *cases, rec *record) uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	var b [16]byte
	binary.LittleEndian.PutUint64(b[:], rec.tagKey)
	binary.LittleEndian.PutUint64(b[8:], uint64(rec.ms))
	h.Write(b[:])
	h.Write(trimmed(c.field(rec.site)))
	h.WriteByte(0)
	h.Write(trimmed(c.field(rec.antenna)))
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
	binary.LittleEndian.PutUint64(b[:], d.hash[0])
	binary.LittleEndian.PutUint64(b[8:], d.hash[1])
	binary.LittleEndian.PutUint64(b[16:], uint64(d.pos))
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
	in := bufio.NewReaderSize(p.file, 64<<10)
	out := make([]digest, p.n)
	var b [digestSize]byte
	for i := range out {
		if _, err := io.ReadFull(in, b[:]); err != nil {
			return nil, err
		}
		out[i] = digest{[2]uint64{binary.LittleEndian.Uint64(b[:]), binary.LittleEndian.Uint64(b[8:])}, int64(binary.LittleEndian.Uint64(b[16:]))}
	}
	return out, nil
}

func (p *partition) shut() {
	if p.file != nil {
		p.file.Close()
	}
}
