package main

import "context"

func (p *program) playDemo(context.Context) (summary, error) { return summary{}, nil }
func playCommand(context.Context, []string, console) int     { return 0 }
func importFile(context.Context, []string, console) int      { return 0 }
