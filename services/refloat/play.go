package main

import (
	"context"
	"io"
)

func (p *program) playDemo(context.Context) (any, error) { return nil, nil }
func (p *program) tellDemo(io.Writer)                    {}

func playCommand(context.Context, []string, console) int { return 0 }
func importFile(context.Context, []string, console) int  { return 0 }
