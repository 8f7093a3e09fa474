package demo

import (
	"bytes"
	"path"
)

// File is one file of the season.
type File struct {
	Path string // below the season's folder, with slashes
	Data []byte
}

// in puts a file of the day into the day's folder.
func (d day) in(name string, data []byte) File {
	return File{Path: path.Join(d.folder, name), Data: data}
}

// csvFiles writes grids as CSV files of the day.
func (d day) csvFiles(grids []grid, how dialect) ([]File, error) {
	var out []File
	for _, g := range grids {
		data, err := how.csv(g)
		if err != nil {
			return nil, err
		}
		out = append(out, d.in(g.name+".csv", data))
	}
	return out, nil
}

// plainCSV is the amber crew's habit: three tables, SI units in brackets.
func plainCSV(d day) ([]File, error) { return d.csvFiles(d.tables(metric), brackets) }

// usCSV is the slate crew's habit: US units in parentheses, stopwatch times.
func usCSV(d day) ([]File, error) { return d.csvFiles(d.tables(customary), parentheses) }

// semicolonCSV is the teal crew's habit: semicolons and decimal commas, as a
// spreadsheet of its language saves them, byte-order mark included.
func semicolonCSV(d day) ([]File, error) {
	files, err := d.csvFiles(d.tables(metric), continental)
	for i := range files {
		files[i].Data = append([]byte("\uFEFF"), files[i].Data...)
	}
	return files, err
}

// packedCSV is plainCSV, the samples compressed.
func packedCSV(d day) ([]File, error) {
	files, err := d.csvFiles(d.tables(metric), suffixed)
	if err != nil {
		return nil, err
	}
	last := &files[len(files)-1]
	last.Path += ".gz"
	last.Data, err = packed(last.Data)
	return files, err
}

// zipped is plainCSV in one archive, as it was mailed.
func zipped(d day) ([]File, error) {
	files, err := plainCSV(d)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w := newArchive(&b)
	for _, f := range files {
		m, err := w.Create(path.Base(f.Path))
		if err != nil {
			return nil, err
		}
		if _, err := m.Write(f.Data); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return []File{{Path: d.folder + ".zip", Data: b.Bytes()}}, nil
}
