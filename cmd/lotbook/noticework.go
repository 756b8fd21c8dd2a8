package main

import (
	"context"
	"flag"
	"fmt"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// noticeWork are the uses of the command notice that work a notice off.
func noticeWork() []noticeUse {
	return []noticeUse{
		{"progress", "--notice ID", false, setNoticeProgress},
		{"assign", "--notice ID --action ID --to WHO [--due DATE]", true, setNoticeAssign},
		{"done", "--notice ID --action ID [--by WHO] [--note TEXT] [--not-concerned]", true, setNoticeDone},
		{"review", "--notice ID --patient ID --clinician WHO --how TEXT [--note TEXT]", true, setNoticeReview},
		{"machine", "--notice ID --machine ID --what TEXT [--by WHO]", true, setNoticeMachine},
		{"told", "--notice ID --who WHO --how TEXT [--note TEXT]", true, setNoticeTold},
		{"effective", "--notice ID --asked N --reached N --how TEXT [--level LEVEL]", true, setNoticeEffective},
		{"close", "--notice ID --user ID --meaning TEXT [--accepted WHY] < PASSWORD", true, setNoticeClose},
		{"reopen", "--notice ID --reason WHY", true, setNoticeReopen},
	}
}

// setNoticeProgress prints what was done about a notice and what is not done
// yet. It exits with 1 while something is open.
func setNoticeProgress(*flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	return func(ctx context.Context, r *noticeRun) (int, error) {
		a, err := r.book.Answer(ctx, r.id, 0)
		if err != nil {
			return exitError, err
		}
		var out struct {
			*notice.Progress
			Open []string `json:"open"`
		}
		err = r.book.View(ctx, func(v inventory.Reader) error {
			s, err := notice.ByID(v, r.id)
			if err != nil {
				return err
			}
			if out.Progress, err = notice.ProgressOf(v, s); err != nil {
				return err
			}
			out.Open = append([]string{}, out.Progress.Open(s, a)...)
			return nil
		})
		if err != nil {
			return exitError, err
		}
		if code, err := r.print(out); err != nil || len(out.Open) == 0 {
			return code, err
		}
		return exitError, nil
	}
}

func setNoticeAssign(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var v notice.ActionAssigned
	f.StringVar(&v.Action, "action", "", "")
	f.StringVar(&v.To, "to", "", "")
	f.StringVar((*string)(&v.Due), "due", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		v.Notice = r.id
		return r.did("assigned")(r.book.Assign(ctx, r.call, v))
	}
}

func setNoticeDone(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var v notice.ActionDone
	f.StringVar(&v.Action, "action", "", "")
	f.StringVar(&v.DoneBy, "by", "", "")
	f.StringVar(&v.Note, "note", "", "")
	f.BoolVar(&v.NotConcerned, "not-concerned", false, "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		v.Notice = r.id
		return r.did("done")(r.book.MarkDone(ctx, r.call, v))
	}
}

func setNoticeReview(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var v notice.PatientReviewed
	patient := f.String("patient", "", "")
	f.StringVar(&v.Clinician, "clinician", "", "")
	f.StringVar(&v.How, "how", "", "")
	f.StringVar(&v.Note, "note", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		v.Notice, v.Patient = r.id, trace.PatientID(*patient)
		return r.did("the review is kept")(r.book.Review(ctx, r.call, v))
	}
}

func setNoticeMachine(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var v notice.MachineHandled
	machine := f.String("machine", "", "")
	f.StringVar(&v.What, "what", "", "")
	f.StringVar(&v.DoneBy, "by", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		v.Notice, v.Machine = r.id, trace.MachineID(*machine)
		return r.did("kept")(r.book.HandleMachine(ctx, r.call, v))
	}
}

func setNoticeTold(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var v notice.Told
	f.StringVar(&v.Who, "who", "", "")
	f.StringVar(&v.How, "how", "", "")
	f.StringVar(&v.Note, "note", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		v.Notice = r.id
		return r.did("kept")(r.book.Tell(ctx, r.call, v))
	}
}

func setNoticeEffective(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var v notice.EffectivenessChecked
	f.IntVar(&v.Asked, "asked", 0, "")
	f.IntVar(&v.Reached, "reached", 0, "")
	f.StringVar(&v.How, "how", "", "")
	f.StringVar(&v.Level, "level", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		v.Notice = r.id
		return r.did("the check is kept")(r.book.CheckEffectiveness(ctx, r.call, v))
	}
}

// setNoticeClose closes a notice, signed by a user who gives the password: as
// one line on standard input, or unseen at a terminal.
func setNoticeClose(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	var c notice.ClosingUp
	user := f.String("user", "", "")
	f.StringVar(&c.Meaning, "meaning", "", "")
	f.StringVar(&c.Accepted, "accepted", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		if *user == "" {
			return exitUsage, wrongUsage("--user is missing: who signs")
		}
		u, err := r.accounts.User(ctx, account.NormalID(*user))
		if err != nil {
			return exitError, err
		}
		if u.Role != account.Quality {
			return exitError, fmt.Errorf("%s is %s: only a quality officer closes a notice", u.ID, u.Role)
		}
		password, err := askPassword(r.env, "Password: ")
		if err != nil {
			return exitError, err
		}
		if err := r.accounts.VerifyAgain(ctx, u.ID, password); err != nil {
			return exitError, err
		}
		c.Notice, c.Name = r.id, u.Name
		return r.did("closed, signed by " + u.Name)(r.book.CloseNotice(ctx, inventory.Call{Actor: string(u.ID)}, c))
	}
}

func setNoticeReopen(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	reason := f.String("reason", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		return r.did("open again")(r.book.Reopen(ctx, r.call, notice.Reopened{Notice: r.id, Reason: *reason}))
	}
}

// did returns what says that something was recorded, and as which entry.
func (r *noticeRun) did(what string) func(inventory.Receipt, error) (int, error) {
	return func(rec inventory.Receipt, err error) (int, error) {
		if err != nil {
			return exitError, err
		}
		_, err = fmt.Fprintf(r.stdout, "%s: %s (entry %d)\n", r.id, what, rec.Entries[len(rec.Entries)-1].Seq)
		return exitOK, err
	}
}
