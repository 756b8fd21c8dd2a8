package main

import (
	"context"
	"flag"
	"io"

	"lotbook/reports"
	"lotbook/reports/letter"
	"lotbook/trace/notice"
)

// answerOut is an answer as it is printed.
type answerOut struct {
	Caution string         `json:"caution"`
	Receipt notice.Receipt `json:"receipt"`
	// Words says the receipt in a sentence; Sum is what a reply names as seen.
	Words string `json:"receipt_words"`
	Sum   string `json:"sum"`
	*notice.Answer
}

func answerOutOf(a *notice.Answer) answerOut {
	return answerOut{reports.Caution, a.Receipt(), a.Receipt().Words(), a.Sum(), a}
}

func setNoticeAnswer(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	version := f.Int("version", 0, "")
	number := f.Int("reply", 0, "")
	paper := f.String("paper", "A4", "")
	file := f.String("xlsx", "", "")
	maker := f.String("reply-xlsx", "", "")
	page := f.String("letter", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		given := map[string]bool{}
		f.Visit(func(fl *flag.Flag) { given[fl.Name] = true })
		if given["reply"] {
			if given["version"] {
				return exitUsage, wrongUsage("give --version, or --reply")
			}
			return r.again(ctx, *number, *paper, *file, *maker, *page)
		}
		if given["reply-xlsx"] || given["letter"] || given["paper"] {
			return exitUsage, wrongUsage("the issuer's workbook and the letter are those of a reply: reply first, then give --reply")
		}
		a, err := r.book.Answer(ctx, r.id, *version)
		if err != nil {
			return exitError, err
		}
		if *file == "" {
			return r.print(answerOutOf(a))
		}
		asked, err := r.asked(ctx, r.env)
		if err != nil {
			return exitError, err
		}
		return exitOK, writeWorkbook(ctx, r.data, *file, reports.NoticeAnswer(a, asked))
	}
}

// again makes what was answered in a reply again.
func (r *noticeRun) again(ctx context.Context, number int, paper, file, maker, page string) (int, error) {
	sheets, err := paperOf(paper)
	if err != nil {
		return exitUsage, err
	}
	k, err := r.book.Replied(ctx, r.id, number)
	if err != nil {
		return exitError, err
	}
	if file == "" && maker == "" && page == "" {
		return r.print(struct {
			*notice.KeptReply
			Answer answerOut `json:"answer"`
		}{k, answerOutOf(k.Answer)})
	}
	if file != "" {
		by, err := reports.KeptAsked(k, sheets)
		if err != nil {
			return exitError, err
		}
		if err := writeWorkbook(ctx, r.data, file, reports.NoticeAnswer(k.Answer, by)); err != nil {
			return exitError, err
		}
	}
	wb, err := reports.NoticeReply(k, sheets)
	if err != nil {
		return exitError, err
	}
	if maker != "" {
		if err := writeWorkbook(ctx, r.data, maker, wb); err != nil {
			return exitError, err
		}
	}
	if page != "" {
		return exitOK, writeWhole(page, func(w io.Writer) error { return letter.Write(w, wb) })
	}
	return exitOK, nil
}

// paperOf reads the option --paper.
func paperOf(s string) (reports.Paper, error) {
	switch s {
	case "A4":
		return reports.A4, nil
	case "Letter":
		return reports.Letter, nil
	}
	return 0, wrongUsage("--paper is A4 or Letter")
}

func setNoticeDifference(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	from := f.Int("from", 0, "")
	to := f.Int("to", 0, "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		d, err := r.book.Difference(ctx, r.id, *from, *to)
		if err != nil {
			return exitError, err
		}
		return r.print(struct {
			Caution string `json:"caution"`
			*notice.Difference
		}{reports.Caution, d})
	}
}

func setNoticeReply(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	version := f.Int("version", 0, "")
	words := f.String("words", "", "")
	seen := f.String("seen", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		if *words == "" {
			return exitUsage, wrongUsage("--words is missing: a JSON file with what you say beside the answer")
		}
		q := notice.Replying{Notice: r.id, Version: *version, Seen: *seen}
		if err := readJSON(r.env, *words, &q.ReplyWords); err != nil {
			return exitError, err
		}
		return r.wrote(r.book.Reply(ctx, r.call, q))
	}
}
