package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/desk"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/process"
)

func openCommand() *cli.Command {
	return &cli.Command{
		Name:      "open",
		Usage:     "a page to click in, on this machine alone",
		UsageText: "unseen open [STUDY.toml|FOLDER] [flags]",
		Description: "Opens a page in the browser: give it tables, confirm what was understood, read the answer.\n" +
			"The study file stays the truth; every view names the command that gives the same. The page\n" +
			"sees one folder and is served to this machine alone; nothing is sent anywhere.\n\n" +
			"Example:  unseen open season2025",
		Flags: []cli.Flag{
			line.CountFlag(1, 65535, "", cli.IntFlag{Name: "port", DefaultText: "a free one", Usage: "serve the page at port `NUMBER`"}),
			&cli.BoolFlag{Name: "no-browser", DisableDefaultText: true, Usage: "only print the address"},
			&cli.BoolFlag{Name: "read-only", DisableDefaultText: true, Usage: "write nothing"},
		},
		Action: openAction,
	}
}

func openAction(c *cli.Context) error {
	if c.NArg() > 1 {
		return line.Errorf("open takes one study file or folder, not %d: %q", c.NArg(), c.Args().Slice())
	}
	given := c.Args().First()
	if given == "" {
		given = "."
	}
	return openPage(c, given)
}

// openClicked opens the page that a double click on the program asks for: it
// named no folder. The window that Explorer made is gone with the program, so
// that what went wrong is told first.
func openClicked(c *cli.Context) error {
	folder, err := process.ClickedFolder()
	if err == nil {
		err = openPage(c, folder)
	}
	if err == nil || runtime.GOOS != "windows" || c.Context.Err() != nil {
		return err
	}
	line.Complain(c.App, err)
	fmt.Fprintln(c.App.ErrWriter, "Press Enter to close this window.")
	bufio.NewReader(c.App.Reader).ReadString('\n')
	return line.ErrNotUsable
}

// openPage serves the page of a folder or a study until it is asked to stop.
func openPage(c *cli.Context, given string) error {
	opt := desk.Options{Folder: given, ReadOnly: c.Bool("read-only"), Version: line.Version()}
	info, err := os.Stat(given)
	switch {
	case err != nil:
		return line.Errorf("there is no file or folder %s", given)
	case !info.IsDir():
		opt.Folder, opt.Study = filepath.Split(given)
		if opt.Folder == "" {
			opt.Folder = "."
		}
	}
	// The listener is kept from here on: a port looked up and let go could be
	// another program's when it is taken again.
	var at net.ListenConfig
	listener, err := at.Listen(c.Context, "tcp4", "127.0.0.1:"+strconv.Itoa(c.Int("port")))
	if err != nil {
		return fmt.Errorf("the page cannot be served: %w; choose another --port, or leave it out", err)
	}
	defer listener.Close()
	opt.Address = listener.Addr().String()
	d, err := desk.New(c.Context, opt)
	if err != nil {
		return err
	}
	defer d.Close()
	fmt.Fprintf(c.App.Writer, "The page of %s is at\n%s\nIt is for this machine alone, and ends with Ctrl-C.\n", harmless.Escape(given), d.Address())
	server := &http.Server{Handler: d, ReadHeaderTimeout: 10 * time.Second, MaxHeaderBytes: 1 << 16}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	if !c.Bool("no-browser") {
		if err := process.Browse(d.Once()); err != nil {
			fmt.Fprintln(c.App.ErrWriter, "unseen: no browser could be opened; open the address above by hand")
		}
	}
	select {
	case err := <-failed:
		return err
	case <-d.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(c.Context), 2*time.Second)
	defer cancel()
	if err := server.Shutdown(end); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return c.Context.Err()
}
