package page

import (
	"fmt"
	"io"
	"strings"

	"sheetwash/api/report/figure"
)

// File is a file of a report that lies in a folder or an archive.
type File struct {
	Name  string // below the folder, with slashes
	Write func(io.Writer) error
}

// Files lists the files of the report of an analysis: the pages, the season's
// first, with links among them, and every chart in the formats that are wanted.
// Link of the input is not used.
func Files(in Input, formats []figure.Format) ([]File, error) {
	names := fileNames{taken: map[string]bool{}, of: map[Target]string{}}
	in.Link = names.link
	site := New(in)
	var files []File
	add := func(t Target, name string) {
		files = append(files, File{names.give(t, name), func(w io.Writer) error { return site.Write(w, t) }})
	}
	all := append(append([]Target{{Kind: SeasonPage}}, site.Events()...), site.Runs()...)
	for _, t := range all {
		switch t.Kind {
		case EventPage:
			add(t, "event-"+t.Event)
		case RunPage:
			add(t, "run-"+t.Run)
		default:
			add(t, "season")
		}
	}
	if len(formats) == 0 {
		return files, nil
	}
	for _, t := range all {
		charts, err := site.Charts(t)
		if err != nil {
			return nil, err
		}
		stem := strings.TrimSuffix(names.link(t), ".html")
		for _, c := range charts {
			for _, f := range formats {
				files = append(files, File{"figures/" + stem + "-" + c.Name + "." + string(f), func(w io.Writer) error { return c.Figure.Write(w, f) }})
			}
		}
	}
	return files, nil
}

// fileNames gives each page a file name of its own.
type fileNames struct {
	taken map[string]bool
	of    map[Target]string
}

func (n fileNames) link(t Target) string { return n.of[t] }

// give makes a file name of letters, digits and hyphens; a number behind it where
// it is taken.
func (n fileNames) give(t Target, name string) string {
	stem := slug(name)
	unique := stem
	for i := 2; n.taken[unique]; i++ {
		unique = fmt.Sprint(stem, "-", i)
	}
	n.taken[unique] = true
	n.of[t] = unique + ".html"
	return n.of[t]
}

// longestSlug bounds the file names of pages.
const longestSlug = 60

// slug keeps the letters and digits of ASCII in lower case.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= longestSlug {
			break
		}
	}
	return strings.Trim(b.String(), "-")
}
