# What the cells of a workbook hold, a line each, by the standard library of
# another language: SHEET!CELL KIND TEXT, kind by the mark and the format.
import re, sys, zipfile
import xml.etree.ElementTree as E

M = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
R = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
P = "{http://schemas.openxmlformats.org/package/2006/relationships}"
z = zipfile.ZipFile(sys.argv[1])
assert z.testzip() is None
part = lambda name: E.fromstring(z.read(name))
types = part("[Content_Types].xml")
named = {o.get("PartName") for o in types if o.tag.endswith("Override")}
styles = part("xl/styles.xml")
codes = {f.get("numFmtId"): f.get("formatCode") for f in styles.iter(M + "numFmt")}
formats = [x.get("numFmtId") for x in styles.find(M + "cellXfs")]
rels = {r.get("Id"): r.get("Target") for r in part("xl/_rels/workbook.xml.rels").iter(P + "Relationship")}
number = lambda s: re.sub("_x([0-9A-Fa-f]{4})_", lambda m: chr(int(m[1], 16)), s)
for sheet in part("xl/workbook.xml").iter(M + "sheet"):
    name = "xl/" + rels[sheet.get(R + "id")]
    assert "/" + name in named, name
    root = part(name)
    # The order that the standard wants of a sheet's parts.
    order = ["sheetPr", "sheetViews", "cols", "sheetData", "autoFilter", "pageSetup"]
    have = [e.tag.replace(M, "") for e in root]
    assert have == order, have
    assert not list(root.iter(M + "f")), "a formula"
    print("%s: filter %s, frozen above %s, widths %s" % (
        sheet.get("name"), root.find(M + "autoFilter").get("ref"), root.find("%ssheetViews/%ssheetView/%spane" % (M, M, M)).get("topLeftCell"),
        " ".join(c.get("width") for c in root.iter(M + "col"))))
    for c in root.iter(M + "c"):
        kind = c.get("t", "n")
        text = number("".join(t.text or "" for t in c.iter(M + "t"))) if kind == "inlineStr" else c.find(M + "v").text
        form = formats[int(c.get("s", "0"))]
        form = codes.get(form, form).replace("\\", "")
        print("%s!%s %s %s %s" % (sheet.get("name"), c.get("r"), kind, form, ascii(text)))
