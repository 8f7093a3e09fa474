package ingest

import (
	"archive/zip"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"sheetwash/ingest/issue"
)

// Limits bounds what an archive may unpack to. Zero fields take their defaults.
type Limits struct {
	Members  int   // files in an archive; default 20000
	Unpacked int64 // bytes of all members of an archive together; default 16 GiB
	Ratio    int64 // unpacked over packed size of one member larger than 64 MiB; default 200
	Columns  int   // of a table; 0: no limit of its own
	Cell     int   // bytes of a cell of text; default 1 MiB
	Readings int64 // rows of a table of readings; 0: no limit
}

// smallMember is the unpacked size below which the ratio does not matter, bytes.
const smallMember = 64 << 20

func (l Limits) orDefault() Limits {
	return Limits{
		Members:  cmp.Or(l.Members, 20000),
		Unpacked: cmp.Or(l.Unpacked, 16<<30),
		Ratio:    cmp.Or(l.Ratio, 200),
		Columns:  l.Columns,
		Cell:     cmp.Or(l.Cell, 1<<20),
		Readings: l.Readings,
	}
}

// archive adds the datasets of the zip at p, which findings call shown. One that must not be unpacked becomes a
// dataset without files, which Read rejects with what was found.
func (f *finder) archive(p, shown, base string, sp *spool) error {
	files, faults, err := listArchive(p, shown, f.limits)
	if err != nil {
		return fmt.Errorf("find datasets: %w", err)
	}
	before := len(f.sources)
	if len(faults) > 0 {
		f.add(Source{Name: base, issues: faults}, p)
	} else if err := f.tree(files, p, base); err != nil {
		return err
	}
	if added := f.sources[before:]; len(added) == 0 {
		f.add(Source{Name: base, issues: []issue.Issue{{Code: DatasetNone, Severity: issue.Error, File: shown,
			Message: "no dataset was found in the archive: name the tables runs, plots, samples, cans or readings, or put a mapping.yaml beside them"}}}, p)
	} else if len(added) == 1 && added[0].Name != base {
		added[0].Name = base // one dataset in a folder of its own: the archive is the dataset
	}
	for i := range f.sources[before:] {
		f.sources[before+i].spool = sp
	}
	return nil
}

// listArchive returns the files of a zip as far as they may be read, or why the
// zip is refused. It decides from the directory alone; sizes that lie are found
// by extract.
func listArchive(p, shown string, l Limits) ([]file, []issue.Issue, error) {
	z, err := zip.OpenReader(p)
	switch {
	case errors.Is(err, zip.ErrFormat), errors.Is(err, zip.ErrAlgorithm), errors.Is(err, zip.ErrChecksum),
		errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, []issue.Issue{refusal(ZipDamaged, shown, "", "the archive is damaged or cut off: pack it again")}, nil
	case err != nil && !errors.Is(err, zip.ErrInsecurePath):
		return nil, nil, err
	}
	defer z.Close()
	c := census{archive: shown, limits: l, seen: map[string]bool{}}
	var files []file
	for i, m := range z.File {
		if c.accept(m) {
			files = append(files, file{name: m.Name, disk: p, member: m.Name, index: i, size: int64(m.UncompressedSize64), role: roleOf(m.Name)})
		}
	}
	if len(z.File) > l.Members {
		c.refuse(ZipBomb, "", fmt.Sprintf("the archive holds %d members, more than the %d that are allowed: pack only the dataset", len(z.File), l.Members))
	}
	if len(c.faults) > 0 {
		return nil, c.faults, nil
	}
	slices.SortFunc(files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	return files, nil, nil
}

// census looks at the members of an archive one by one.
type census struct {
	archive string
	limits  Limits
	total   int64
	seen    map[string]bool
	faults  []issue.Issue
}

func refusal(code issue.Code, archive, member, message string) issue.Issue {
	return issue.Issue{Code: code, Severity: issue.Error, File: archive, Value: member, Message: message}
}

func (c *census) refuse(code issue.Code, member, message string) {
	c.faults = append(c.faults, refusal(code, c.archive, member, message))
}

// accept reports whether a member is a file of a dataset; it notes why the
// archive must be refused.
func (c *census) accept(m *zip.File) bool {
	name := m.Name
	switch {
	case strings.Contains(name, `\`) || strings.ContainsRune(name, 0) || path.IsAbs(name) || !filepath.IsLocal(strings.TrimSuffix(name, "/")):
		c.refuse(ZipUnsafeName, name, "the archive holds a name that leads outside it: it is not unpacked; pack the dataset again from its own folder")
		return false
	case m.Mode()&os.ModeSymlink != 0 || m.Mode()&os.ModeType&^os.ModeDir != 0:
		c.refuse(ZipNotAFile, name, "the archive holds a link or a device: pack the files themselves")
		return false
	case m.Mode().IsDir():
		return false
	}
	for _, element := range strings.Split(name, "/") {
		if hidden(element) {
			return false
		}
	}
	name = path.Clean(name)
	if c.seen[name] {
		c.refuse(ZipTwice, name, "the archive holds two files of one name: pack it again")
		return false
	}
	c.seen[name] = true
	const encrypted = 1
	switch {
	case m.Flags&encrypted != 0:
		c.refuse(ZipEncrypted, name, "the archive is encrypted: pack it without a password")
		return false
	case roleOf(name) == roleArchive:
		c.refuse(ZipNested, name, "the archive holds another archive: unpack it first")
		return false
	}
	c.total += int64(m.UncompressedSize64)
	packed := max(1, int64(m.CompressedSize64))
	if int64(m.UncompressedSize64) < 0 || c.total > c.limits.Unpacked || c.total < 0 ||
		int64(m.UncompressedSize64) > smallMember && int64(m.UncompressedSize64)/packed > c.limits.Ratio {
		c.refuse(ZipBomb, name, fmt.Sprintf("the archive unpacks to more than is allowed (%d bytes in all, or %d times its size): unpack it and give the folder", c.limits.Unpacked, c.limits.Ratio))
		return false
	}
	return true
}
