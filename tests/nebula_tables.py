"""Tables in which an invented nebula is the only object."""
import os


def write(catalogs, nebula):
    """Writes to the folder that is current: tables/, those of the folder catalogs but with this nebula
    as the only object, and drawn.tsv for the renderer, which knows a sort of nebula that is as bright
    all over. nebula: the cells of its row in objects.tsv; its sort becomes what each of the two
    knows."""
    os.mkdir("tables")
    for name in os.listdir(catalogs):
        if name not in ("objects.tsv", "outlines.tsv", "ngc.tsv"):
            os.symlink(os.path.join(catalogs, name), "tables/" + name)
    with open(catalogs + "/objects.tsv") as known:
        head = next(line for line in known if not line.startswith("#"))
    for name, sort in (("tables/objects.tsv", "emission nebula"), ("drawn.tsv", "even nebula")):
        with open(name, "w") as table:
            table.write(head + "\t".join(sort if cell == "even nebula" else cell for cell in nebula) + "\n")
