package main

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

//go:embed schema.sql
var schema string

//go:embed indexes.sql
var indexes string

//go:embed question.sql
var question string

// questionOf is the question about a lot, whose number needs no escaping here.
func questionOf(lot string) string { return strings.ReplaceAll(question, "$LOT", lot) }

// feed runs a command with a script and returns what it says.
func feed(ctx context.Context, script string, name string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Stdin = strings.NewReader(script)
	var out, trouble bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &trouble
	if err := cmd.Run(); err != nil {
		return "", fmt.Errorf("%s: %w: %s", name, err, trouble.String())
	}
	if trouble.Len() > 0 {
		return "", fmt.Errorf("%s: %s", name, trouble.String())
	}
	return out.String(), nil
}

// gradeLines returns the first two columns of tab-separated lines.
func gradeLines(out string) (lines []string) {
	for line := range strings.Lines(out) {
		if cells := strings.SplitN(strings.TrimSpace(line), "\t", 3); len(cells) == 3 {
			lines = append(lines, cells[0]+"\t"+cells[1])
		}
	}
	return lines
}

// times returns the durations that a pattern's first group names, in a unit.
func times(out string, pattern *regexp.Regexp, unit time.Duration) (list []time.Duration, err error) {
	for _, m := range pattern.FindAllStringSubmatch(out, -1) {
		var sum float64
		for _, g := range m[1:] {
			f, err := strconv.ParseFloat(g, 64)
			if err != nil {
				return nil, err
			}
			sum += f
		}
		list = append(list, time.Duration(sum*float64(unit)))
	}
	if len(list) == 0 {
		return nil, errors.New("it does not say how long it took")
	}
	return list, nil
}

// sqlite is the shell of SQLite on a file of its own.
type sqlite struct{ file string }

func newSQLite(ctx context.Context, dir string) (*sqlite, error) {
	s := &sqlite{filepath.Join(dir, "lots.sqlite")}
	script := "PRAGMA journal_mode = OFF;\nPRAGMA synchronous = OFF;\n.output /dev/null\n" + schema + ".mode tabs\n"
	for _, t := range tables {
		script += fmt.Sprintf(".import %s %s\n", tableFile(dir, t), t)
	}
	_, err := feed(ctx, script+indexes, "sqlite3", s.file)
	return s, err
}

func (*sqlite) name() string { return "SQLite" }

// cached lets it keep all in memory that it reads.
const cached = "PRAGMA cache_size = -1000000;\nPRAGMA mmap_size = 4000000000;\n"

func (s *sqlite) answer(ctx context.Context, lot string) ([]string, error) {
	out, err := feed(ctx, ".mode tabs\n"+questionOf(lot), "sqlite3", s.file)
	return gradeLines(out), err
}

var (
	liteReal = regexp.MustCompile(`Run Time: real (\d+\.\d+)`)
	liteCPU  = regexp.MustCompile(`Run Time: real \d+\.\d+ user (\d+\.\d+) sys (\d+\.\d+)`)
)

func (s *sqlite) time(ctx context.Context, lot string, rounds int) (f figure, err error) {
	q := questionOf(lot)
	out, err := feed(ctx, ".output /dev/null\n"+cached+q+".timer on\n"+strings.Repeat(q, rounds), "sqlite3", s.file)
	if err != nil {
		return f, err
	}
	walls, err := times(out, liteReal, time.Second)
	if err != nil {
		return f, err
	}
	cpus, err := times(out, liteCPU, time.Second)
	if err != nil || len(walls) != rounds {
		return f, errors.Join(err, fmt.Errorf("it was timed %d times, not %d", len(walls), rounds))
	}
	return figure{median(walls), mean(cpus)}, nil
}

func mean(list []time.Duration) (sum time.Duration) {
	for _, d := range list {
		sum += d
	}
	return sum / time.Duration(len(list))
}

// postgres is a server of its own in a temporary folder, reached by a socket in
// it.
type postgres struct{ dir, bin string }

// as puts a command under the account that Debian's package adds where this runs
// as root, which the server refuses.
func (p *postgres) as(ctx context.Context, name string, args ...string) *exec.Cmd {
	path := filepath.Join(p.bin, name)
	if os.Geteuid() != 0 {
		return exec.CommandContext(ctx, path, args...)
	}
	return exec.CommandContext(ctx, "runuser", append([]string{"-u", "postgres", "--", path}, args...)...)
}

func newPostgres(ctx context.Context, dir string) (*postgres, error) {
	bins, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	if err != nil || len(bins) == 0 {
		return nil, errors.New("there is no PostgreSQL: apt-get install --no-install-recommends postgresql (make sql-report does)")
	}
	p := &postgres{filepath.Join(dir, "pg"), bins[len(bins)-1]}
	if err := os.MkdirAll(p.dir, 0o777); err != nil {
		return nil, err
	}
	for _, d := range []string{dir, p.dir} {
		if err := os.Chmod(d, 0o777); err != nil { // another account's server lives in it
			return nil, err
		}
	}
	data := filepath.Join(p.dir, "data")
	if out, err := p.as(ctx, "initdb", "-D", data, "-U", "lotbook", "--auth=trust", "--locale=C", "-E", "UTF8").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w: %s", err, out)
	}
	options := fmt.Sprintf("-k %s -c listen_addresses='' -c fsync=off -c shared_buffers=1GB -c work_mem=256MB -c jit=off -c max_parallel_workers_per_gather=0", p.dir)
	if out, err := p.as(ctx, "pg_ctl", "-D", data, "-l", filepath.Join(p.dir, "log"), "-w", "-o", options, "start").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("pg_ctl: %w: %s", err, out)
	}
	script := schema
	for _, t := range tables {
		script += fmt.Sprintf("\\copy %s from '%s'\n", t, tableFile(dir, t))
	}
	if _, err := p.psql(ctx, script+indexes); err != nil {
		p.stop()
		return nil, err
	}
	return p, nil
}

func (p *postgres) psql(ctx context.Context, script string) (string, error) {
	return feed(ctx, script, "psql", "-X", "-q", "-A", "-t", "-F", "\t", "-v", "ON_ERROR_STOP=1", "-h", p.dir, "-U", "lotbook", "postgres")
}

func (p *postgres) stop() {
	_ = p.as(context.Background(), "pg_ctl", "-D", filepath.Join(p.dir, "data"), "-m", "immediate", "stop").Run() // its folder goes next
}

func (*postgres) name() string { return "PostgreSQL" }

func (p *postgres) answer(ctx context.Context, lot string) ([]string, error) {
	out, err := p.psql(ctx, questionOf(lot))
	return gradeLines(out), err
}

var (
	pgReal = regexp.MustCompile(`Time: (\d+\.\d+) ms`)
	// pgCPU finds the 14th and the 15th field of /proc/PID/stat (proc(5)).
	pgCPU = regexp.MustCompile(`(?m)^\d+ \(postgres\) (?:\S+ ){11}(\d+) (\d+)`)
)

// tick is what /proc counts processor time in, on Linux.
const tick = time.Second / 100

// time has the server's own process read by psql before and after, so that the
// processor time is the server's alone.
func (p *postgres) time(ctx context.Context, lot string, rounds int) (f figure, err error) {
	q := questionOf(lot)
	stat := "\\! cat /proc/$SERVER/stat\n"
	script := "SELECT pg_backend_pid() AS pid \\gset\n\\setenv SERVER :pid\n\\o /dev/null\n" + q + stat + "\\timing on\n" + strings.Repeat(q, rounds) + stat
	out, err := p.psql(ctx, script)
	if err != nil {
		return f, err
	}
	walls, err := times(out, pgReal, time.Millisecond)
	if err != nil {
		return f, err
	}
	cpu, err := times(out, pgCPU, tick)
	if err != nil || len(cpu) != 2 || len(walls) != rounds {
		return f, errors.Join(err, fmt.Errorf("it was timed %d times, not %d", len(walls), rounds))
	}
	return figure{median(walls), (cpu[1] - cpu[0]) / time.Duration(rounds)}, nil
}
