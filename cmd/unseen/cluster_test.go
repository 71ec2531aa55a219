//go:build cluster

package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The scripts of docs/cluster.md, run by the schedulers they are for:
//
//	go test -tags cluster -run TestCluster ./cmd/unseen

// ofStudy are the study and the flags that the parts and the one run share; a
// value with blanks must come through every shell on the way.
var ofStudy = []string{"hollin/study.toml", "--survival", "reach + cohort", "--detection", "row"}

func TestCluster(t *testing.T) {
	text, err := os.ReadFile("../../docs/cluster.md")
	require.NoError(t, err)
	bin := t.TempDir()
	shell(t, "go", "build", "-o", bin, ".")
	t.Setenv("PATH", bin+":"+os.Getenv("PATH")+":/usr/sbin")
	tests := map[string]func(*testing.T){"Slurm": inSlurm, "SlurmInterrupted": slurmInterrupted, "Parallel": inParallel}
	if why := startSlurm(t); why != "" {
		// Some machines let no daemon of its kind run: the other way is left.
		fmt.Println("Slurm does not start here; GNU parallel alone is run.", why)
		tests = map[string]func(*testing.T){"Parallel": inParallel}
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			clusterFolder(t, string(text))
			test(t)
		})
	}
}

func inSlurm(t *testing.T) {
	shell(t, append([]string{"bash", "slurm.sh", "4", "50"}, ofStudy...)...)
	assert.Len(t, parts(t), 4)
	sameAsOneRun(t, 200)
}

func inParallel(t *testing.T) {
	shell(t, append([]string{"bash", "parallel.sh", "4", "50"}, ofStudy...)...)
	assert.Len(t, parts(t), 4)
	sameAsOneRun(t, 200)
}

// slurmInterrupted ends a task early: nothing is merged, its
// replicates are kept, and the same call goes on from there.
func slurmInterrupted(t *testing.T) {
	var made int
	// Time enough for a replicate, however busy the machine.
	for after := 250 * time.Millisecond; made == 0 && after < 20*time.Second; after *= 2 {
		ctx, stop := context.WithTimeout(t.Context(), 2*time.Minute)
		defer stop()
		script := exec.CommandContext(ctx, "bash", append([]string{"slurm.sh", "1", "100000"}, ofStudy...)...)
		require.NoError(t, script.Start())
		job := runningPart(t)
		time.Sleep(after)
		shell(t, "scancel", "--batch", "--signal=INT", job)
		assert.Error(t, script.Wait(), "slurm.sh must say that it did not come to its end")
		require.NoError(t, ctx.Err(), "slurm.sh still waits")
		assert.Contains(t, shell(t, "scontrol", "show", "job", job), " ExitCode=130:0")
		if s, err := readReplicates("parts/1.jsonl"); err == nil {
			made = s.Replicates[len(s.Replicates)-1].Index
		}
	}
	require.Positive(t, made, "no replicate was kept")
	require.Less(t, made, 100_000, "it came to its end: the test interrupts nothing")
	assert.NoFileExists(t, "all.jsonl")
	// Parts as long as what was kept, so that none of it is in another part too.
	shell(t, append([]string{"bash", "slurm.sh", "2", fmt.Sprint(made)}, ofStudy...)...)
	sameAsOneRun(t, 2*made)
}

var scriptName = regexp.MustCompile(`(?m)^# (\w+\.sh) `)

// clusterFolder makes a folder with the demo study and the scripts of the page,
// and goes there.
func clusterFolder(t *testing.T, page string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for _, block := range fenced.FindAllStringSubmatch(page, -1) {
		if m := scriptName.FindStringSubmatch(block[2]); m != nil {
			require.NoError(t, os.WriteFile(m[1], []byte(block[2]), 0o644))
		}
	}
	shell(t, "unseen", "demo", "hollin")
}

// shell runs a command that must end well and returns what it wrote to stdout.
func shell(t *testing.T, words ...string) string {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 2*time.Minute)
	defer stop()
	cmd := exec.CommandContext(ctx, words[0], words[1:]...)
	cmd.WaitDelay = time.Second
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	require.NoError(t, err, "%s\n%s%s\n%s", strings.Join(words, " "), out, errs.String(), logs())
	return string(out)
}

// logs are what the tasks and the daemons said.
func logs() string {
	var b strings.Builder
	for _, pattern := range []string{"parts/*.log", filepath.Join(filepath.Dir(os.Getenv("SLURM_CONF")), "*.log")} {
		files, _ := filepath.Glob(pattern)
		for _, f := range files {
			text, _ := os.ReadFile(f)
			fmt.Fprintf(&b, "── %s\n%s", f, text)
		}
	}
	return b.String()
}

func parts(t *testing.T) []string {
	files, err := filepath.Glob("parts/*.jsonl")
	require.NoError(t, err)
	return files
}

// sameAsOneRun compares the merged replicates, and the answer, byte by byte with
// those of one process.
func sameAsOneRun(t *testing.T, replicates int) {
	t.Helper()
	args := append([]string{"unseen", "fit"}, ofStudy...)
	want := shell(t, append(args, "--interval", "bootstrap", "--seed", "1", "--replicates", fmt.Sprint(replicates), "--save", "once.jsonl", "--json")...)
	assert.Equal(t, want, readFile(t, "answer.json"))
	// Not assert.Equal, which would print megabytes.
	assert.True(t, readFile(t, "once.jsonl") == readFile(t, "all.jsonl"), "the merged replicates differ from those of one run")
	s, err := readReplicates("all.jsonl")
	require.NoError(t, err)
	assert.Len(t, s.Replicates, replicates)
}

func readFile(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(text)
}

// slurmConf is a cluster of one node that only its own user and machine can
// use: jobs are not authenticated.
const slurmConf = `ClusterName=one
SlurmctldHost=%[1]s(127.0.0.1)
SlurmctldPort=%[2]d
SlurmdPort=%[3]d
SlurmUser=%[4]s
SlurmdUser=%[4]s
AuthType=auth/none
CredType=cred/none
CommunicationParameters=NoInAddrAny
MpiDefault=none
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SlurmdParameters=config_overrides
SchedulerParameters=batch_sched_delay=0,sched_interval=1
StateSaveLocation=%[5]s/state
SlurmdSpoolDir=%[5]s/spool
SlurmctldPidFile=%[5]s/slurmctld.pid
SlurmdPidFile=%[5]s/slurmd.pid
NodeName=one NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=all Nodes=one Default=YES MaxTime=INFINITE State=UP
`

// startSlurm starts a cluster of this machine alone, which ends with the test;
// why says that it did not start.
func startSlurm(t *testing.T) (why string) {
	t.Helper()
	for _, program := range []string{"slurmctld", "slurmd", "sinfo"} {
		if _, err := exec.LookPath(program); err != nil {
			return err.Error()
		}
	}
	dir := t.TempDir()
	for _, d := range []string{"state", "spool"} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, d), 0o755))
	}
	host, err := os.Hostname()
	require.NoError(t, err)
	me, err := user.Current()
	require.NoError(t, err)
	conf := filepath.Join(dir, "slurm.conf")
	host, _, _ = strings.Cut(host, ".")
	require.NoError(t, os.WriteFile(conf, fmt.Appendf(nil, slurmConf, host, freePort(t), freePort(t), me.Username, dir), 0o644))
	t.Setenv("SLURM_CONF", conf)
	daemon(t, dir, "slurmctld", "-D", "-f", conf)
	daemon(t, dir, "slurmd", "-D", "-N", "one", "-f", conf)
	for until := time.Now().Add(time.Minute); ; time.Sleep(200 * time.Millisecond) {
		out, err := exec.Command("sinfo", "--noheader", "--format=%T").CombinedOutput()
		if err == nil && strings.TrimSpace(string(out)) == "idle" {
			return ""
		}
		if time.Now().After(until) {
			return fmt.Sprintf("%s\n%s", out, logs())
		}
	}
}

// daemon runs a program until the test ends.
func daemon(t *testing.T, dir string, words ...string) {
	t.Helper()
	log, err := os.Create(filepath.Join(dir, words[0]+".log"))
	require.NoError(t, err)
	cmd := exec.Command(words[0], words[1:]...)
	cmd.Stdout, cmd.Stderr = log, log
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		cmd.Process.Signal(os.Interrupt)
		late := time.AfterFunc(10*time.Second, func() { cmd.Process.Kill() })
		cmd.Wait()
		late.Stop()
		log.Close()
	})
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// runningPart waits until a part is being made and returns its job.
func runningPart(t *testing.T) string {
	t.Helper()
	for until := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		job := strings.TrimSpace(shell(t, "squeue", "--noheader", "--array", "--name=unseen-part", "--states=RUNNING", "--format=%i"))
		if job != "" {
			return job
		}
		require.True(t, time.Now().Before(until), "no part is made\n%s", logs())
	}
}
