package alarms

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"manobridge/publish"
)

// mostReplies bounds the requests that are remembered at once.
const mostReplies = 1000

// replies remember the requests that were answered for as long as they could be played back, also over a restart, so that
// a repeat gets the same answer and is not done again.
type replies struct {
	store Store
	of    map[string]replied
}

type replied struct {
	Answer publish.AlarmReply `json:"answer"`
	Until  time.Time          `json:"until"`
}

const repliesName = "limit-requests"

func takeUpReplies(ctx context.Context, store Store) (replies, error) {
	p := replies{store: store, of: map[string]replied{}}
	text, found, err := store.Kept(ctx, repliesName)
	if err != nil || !found {
		return p, err
	}
	if err := json.Unmarshal(text, &p.of); err != nil {
		return p, fmt.Errorf("the requests kept cannot be read: %w", err)
	}
	return p, nil
}

func requestName(r Request) string { return r.Limit + "\n" + r.User + "\n" + r.ID }

func (p replies) find(r Request, now time.Time) (publish.AlarmReply, bool) {
	for name, old := range p.of {
		if now.After(old.Until) {
			delete(p.of, name)
		}
	}
	old, ok := p.of[requestName(r)]
	return old.Answer, ok
}

func (p replies) keep(ctx context.Context, r Request, answer publish.AlarmReply, now time.Time) error {
	p.of[requestName(r)] = replied{answer, now.Add(farAhead + time.Minute)}
	text, err := json.Marshal(p.of)
	if err != nil {
		return err
	}
	return p.store.Keep(ctx, repliesName, text)
}
