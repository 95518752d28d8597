package main

import (
	"context"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"manobridge/cmd/manobridge/acts"
	"manobridge/publish/journal"
)

// auditCommand reads the record of acts.
type auditCommand struct {
	Verify auditVerifyCommand `cmd:"" help:"Find any entry altered, removed or moved; with an anchor also a cut tail."`
	Export auditExportCommand `cmd:"" help:"Print the record as CSV."`
}

type auditVerifyCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Anchor string `placeholder:"COUNT:HEAD" help:"Count and head as the retained topic BRIDGE/acts or the log had them (code act-recorded), or the JSON of that topic."`
	JSON   bool   `help:"One JSON object."`
}

// Run reads beside a running bridge. It ends with the answer no where the chain is broken.
func (c *auditVerifyCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	anchor, err := anchorOf(c.Anchor)
	if err != nil {
		return notStarted(err)
	}
	r, err := journal.OpenReader(ctx, cfg.Journal.Path)
	if err != nil {
		return notStarted(err)
	}
	defer r.Close() // read only
	report, err := acts.Verify(r.Acts(ctx, 0), anchor)
	if err != nil {
		return err
	}
	switch {
	case c.JSON:
		err = json.NewEncoder(s.out).Encode(report)
	case report.Problem == "" && anchor == nil:
		_, err = fmt.Fprintf(s.out, "%d entries, each following from the one before; head %s.\nWithout an anchor a cut tail cannot be seen; nor can a record rewritten together with its anchors.\n", report.Count, orNone(report.Head))
	case report.Problem == "":
		_, err = fmt.Fprintf(s.out, "%d entries, each following from the one before, the anchored one (%d) among them; head %s.\n", report.Count, anchor.Count, orNone(report.Head))
	}
	if err == nil && report.Problem != "" {
		return &exit{exitNo, errors.New("the record is not whole: " + report.Problem)}
	}
	return err
}

func orNone(head string) string {
	if head == "" {
		return "none"
	}
	return head
}

// anchorOf reads COUNT:HEAD or the message of the topic; nil where none is given.
func anchorOf(text string) (*acts.Anchor, error) {
	if text == "" {
		return nil, nil
	}
	var a acts.Anchor
	if text[0] == '{' {
		if err := json.Unmarshal([]byte(text), &a); err != nil {
			return nil, fmt.Errorf("--anchor cannot be read: %w", err)
		}
	} else if _, err := fmt.Sscanf(text, "%d:%s", &a.Count, &a.Head); err != nil {
		return nil, fmt.Errorf("--anchor %.80q is not COUNT:HEAD, as 17:5f0c…", text)
	}
	if raw, err := hex.DecodeString(a.Head); a.Count < 0 || err != nil || a.Count > 0 && len(raw) != 32 {
		return nil, fmt.Errorf("--anchor: the head is to have 64 hexadecimal digits")
	}
	return &a, nil
}

type auditExportCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
}

// Run prints every entry, oldest first.
func (c *auditExportCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	r, err := journal.OpenReader(ctx, cfg.Journal.Path)
	if err != nil {
		return notStarted(err)
	}
	defer r.Close() // read only
	out := csv.NewWriter(s.out)
	if err := out.Write([]string{"number", "time", "who", "what", "subject", "old", "new", "why", "hash"}); err != nil {
		return err
	}
	n := 0
	for a, err := range r.Acts(ctx, 0) {
		if err != nil {
			return err
		}
		n++
		if err := out.Write([]string{strconv.Itoa(n), a.Time.UTC().Format(time.RFC3339Nano), a.Who, a.What, a.Subject, a.Old, a.New, a.Why, hex.EncodeToString(a.Hash)}); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
