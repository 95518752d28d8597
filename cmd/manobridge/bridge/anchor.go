package bridge

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"manobridge/cmd/manobridge/acts"
	"manobridge/configs"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/mqtt"
)

// anchor tells where the record of acts has got to, on a retained topic and in the log, so that a cut tail is found. Acts are
// never removed, so the number of the latest is how many there are. Anybody
// may call it.
func (b *Bridge) anchor(a journal.Act) {
	at := acts.Anchor{Count: a.ID, Head: hex.EncodeToString(a.Hash), Time: b.clock.Now().UTC()}
	if b.condition.anchored.Swap(a.ID) < a.ID {
		b.o.Log.Info("the record of acts", "code", "act-recorded", "what", a.What, "subject", a.Subject, "by", a.Who, "count", at.Count, "head", at.Head)
	}
	sink := b.broker()
	if sink == nil {
		return
	}
	message, err := json.Marshal(struct {
		acts.Anchor
		Bridge string `json:"bridge"`
		Run    string `json:"run"`
		Schema int    `json:"schema"`
	}{at, b.Config().Bridge, b.run, publish.Schema})
	if err == nil { // plain fields
		sink.Acts(message)
	}
}

// broker is the sink of the broker, nil where there is none. Anybody may ask.
func (b *Bridge) broker() *mqtt.Sink {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, x := range b.boxes {
		if x.mqtt != nil {
			return x.mqtt
		}
	}
	return nil
}

const configName = "configuration"

// noteConfig records that another configuration is in use than before.
func (b *Bridge) noteConfig(ctx context.Context, c *configs.Config, why string) error {
	text, err := json.Marshal(c)
	if err != nil {
		return fmt.Errorf("configuration: %w", err)
	}
	sum := sha256.Sum256(text)
	now := hex.EncodeToString(sum[:])[:16]
	was, found, err := b.journal.Kept(ctx, configName)
	if err != nil {
		return err
	}
	if found && string(was.Value) == now {
		return nil
	}
	if err := b.journal.Keep(ctx, configName, []byte(now)); err != nil {
		return err
	}
	old := "none"
	if found {
		old = string(was.Value)
	}
	b.act(ctx, journal.Act{Time: b.clock.Now(), Who: "bridge", What: "configuration", Subject: c.Bridge, Old: old, New: now, Why: why})
	return nil
}

// showAnchor tells at a start where the record of acts is.
func (b *Bridge) showAnchor(ctx context.Context) error {
	last, err := b.journal.LastAct(ctx)
	if err != nil {
		return err
	}
	b.anchor(last)
	return nil
}
