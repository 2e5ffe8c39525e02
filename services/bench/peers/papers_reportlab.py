"""Sets a donor's paper as PDF with ReportLab, many times: papers_reportlab.py PAPER.json FONTS COUNT

The same words, typeface and sizes as ours, with the code to check the paper by, on
one core. Each paper has another serial, so that nothing can be kept from one to the
next but the typefaces. Prints papers a second and the bytes of the last.
"""
import io
import json
import sys
import time

from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import letter
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

paper = json.load(open(sys.argv[1]))
pdfmetrics.registerFont(TTFont("Noto", sys.argv[2] + "/NotoSans-Regular.ttf"))
pdfmetrics.registerFont(TTFont("NotoB", sys.argv[2] + "/NotoSans-Bold.ttf"))
margin, label_width = 20 * mm, 48 * mm
width, height = letter


def set_paper(serial):
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=letter, invariant=1, lang="en-US")
    canvas.setTitle(paper["title"])
    y = height - margin

    def lines(text, font, size, x=margin, room=width - 2 * margin, top=None):
        nonlocal y
        at = y if top is None else top
        canvas.setFont(font, size)
        for line in simpleSplit(text, font, size, room):
            at -= size * 1.4
            canvas.drawString(x, at, line)
        return at

    for n, text in enumerate(paper["issuer"]):
        y = lines(text, "NotoB" if n == 0 else "Noto", 12 if n == 0 else 10)
    y = lines(paper["title"], "NotoB", 16)
    for n, text in enumerate(paper["donor"]):
        y = lines(text, "NotoB" if n == 0 else "Noto", 10)
    for label, value in [["Serial number", serial]] + paper["lines"]:
        first = lines(label, "NotoB", 10, room=label_width - 3 * mm)
        y = min(first, lines(value, "Noto", 10, margin + label_width, width - 2 * margin - label_width, y))
    for text in paper["statements"]:
        y = lines(text, "Noto", 10) - 4
    code = QrCodeWidget(paper["check"] + serial, barLevel="M")
    code.barWidth = code.barHeight = 30 * mm
    drawing = Drawing(30 * mm, 30 * mm)
    drawing.add(code)
    renderPDF.draw(drawing, canvas, margin, margin)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


set_paper("US-2026-0000")
count, begin = int(sys.argv[3]), time.perf_counter()
for n in range(count):
    last = set_paper("US-2026-%04d" % n)
print(count / (time.perf_counter() - begin), len(last))
