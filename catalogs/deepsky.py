"""Deep-sky objects: reads the package's six files, puts each object into one row."""
import math
import re

# Shown first to last when an object has several designations.
CATALOGUES = ["M", "LMC", "SMC", "NGC", "IC", "Sh2", "C", "B", "LDN", "LBN", "vdB", "RCW", "Cr",
              "Mel", "Stock", "Tr", "vdBH", "Ced", "SNR", "PK", "PN", "Abell", "ACO"]
LAST_CATALOGUES = ["UGC", "VV", "Arp", "ESO", "PGC"]

GALAXIES = {"g", "s", "s0", "sd", "e", "i"}
TYPE_WORDS = {
    "gg": "galaxy cluster", "oc": "open cluster", "gc": "globular cluster",
    "en": "emission nebula", "bn": "bright nebula", "sfr": "star forming region",
    "rn": "reflection nebula", "pn": "planetary nebula", "snr": "supernova remnant",
    "dn": "dark nebula", "pos": "star cloud",
}
NEBULAE = {"emission nebula", "bright nebula", "reflection nebula", "star forming region"}
CLUSTERS = {"open cluster", "globular cluster"}


class Object:
    def __init__(self, names, ra, dec, kind, magnitude, size):
        self.names = names
        self.ra = ra % 360
        self.dec = dec
        self.kind = kind
        self.magnitude = magnitude
        self.major, self.minor = size
        self.angle = None
        self.common = []
        self.usual = ""
        self.unwanted = set()
        self.chosen = None

    def catalogue(self):
        return self.names[0].replace("-", " ").split()[0]

    def add_names(self, names, first=False):
        """The chosen one, then sorted by catalogue; within one catalogue the first comer stays the
        first."""
        self.chosen = names[0] if first else self.chosen
        self.names += [name for name in names if name and name not in self.names]
        self.names.sort(key=lambda name: (name != self.chosen, rank(name)[:1]))

    def add_common(self, names):
        known = {key(name) for name in self.common + self.names}
        self.common += [name for name in names if name and key(name) not in known]


def key(name):
    """Two spellings of one designation have the same key."""
    return re.sub(r"[^a-z0-9+.]|(?<!\d)-|(?<=sh2)-", "", name.lower().replace("'", ""))


def rank(name):
    """Sorting key: catalogues in the order above, then by number."""
    word = re.split(r"[ -]", name)[0]
    if word in CATALOGUES:
        place = CATALOGUES.index(word)
    elif word in LAST_CATALOGUES:
        place = 100 + LAST_CATALOGUES.index(word)
    else:
        place = len(CATALOGUES)
    numbers = [float(text) for text in re.findall(r"\d+(?:\.\d+)?", name.replace("Sh2", ""))]
    return (place, word if place == len(CATALOGUES) else "", numbers, name)


def designation(text):
    """The usual way to write a designation of the package."""
    text = " ".join(text.split()).replace("Phenix", "Phoenix")
    text = re.sub(r"^(M|NGC|IC)(\d)", r"\1 \2", text)
    text = re.sub(r"^Sh2 ", "Sh2-", text)
    text = re.sub(r"^VdB", "vdB", text)
    return re.sub(r"^(PN|SNR) G ", r"\1 G", text)


def number(value):
    """999 and nothing mean unknown in the package."""
    if value in ("", "999", None):
        return None
    return float(value)


def size(text):
    """'12x4' or '12' arcminutes as (major, minor)."""
    axes = [float(part) for part in text.split("x") if part]
    axes = [axis for axis in axes if axis > 0]
    return (max(axes), min(axes)) if axes else (None, None)


def separation_deg(a, b):
    x = (a.ra - b.ra + 180) % 360 - 180
    return math.hypot(x * math.cos(math.radians(a.dec)), a.dec - b.dec)


def type_word(properties, catalogue):
    """The package's type, corrected where the catalogue itself says what it lists."""
    kind, form = properties["type"], properties.get("morph", "")
    if kind in GALAXIES:
        return "galaxy"
    if catalogue == "SNR":
        return "supernova remnant"
    if catalogue in ("LDN", "B") and kind in ("oc", "pn"):
        return "dark nebula"
    if catalogue == "LBN" and kind == "oc":
        return "bright nebula"
    if catalogue in ("Sh2", "RCW") and kind in ("bn", "oc"):
        return "emission nebula"
    if kind == "bn" and re.search(r"\bEN\b", form):
        return "emission nebula"
    return TYPE_WORDS[kind]


def read_main(package):
    """The big list; the lists of brighter objects in the package are parts of it."""
    objects = []
    for feature in package.json("dsos.20.json")["features"]:
        properties = feature["properties"]
        names = [designation(feature["id"])]
        if properties["desig"] != feature["id"]:
            names.append(designation(properties["desig"]))
        names.sort(key=rank)
        ra, dec = feature["geometry"]["coordinates"]
        made = Object(names, ra, dec, "", number(properties["mag"]), size(properties["dim"]))
        made.kind = type_word(properties, made.catalogue())
        if made.kind == "dark nebula" or made.catalogue() in ("vdB", "vdBH", "Ced"):
            made.magnitude = None  # the package gives the opacity class, or the star that lights it
        objects.append(made)
    return fold_namesakes(objects)


def fold_namesakes(objects):
    """M 8 comes twice: as itself and as NGC 6523, without a magnitude."""
    kept = {}
    for item in sorted(objects, key=lambda item: item.magnitude is None):
        first = kept.setdefault(key(item.names[0]), item)
        if first is not item:
            first.add_names(item.names)
    return list(kept.values())


def index_of(objects):
    return {key(name): item for item in objects for name in reversed(item.names)}


def add_bright(package, objects):
    """The hand-made list of bright objects adds only names like 47 Tuc."""
    index = index_of(objects)
    for feature in package.json("dsos.bright.json")["features"]:
        known = index.get(key(designation(feature["id"])))
        if known:
            known.add_names([designation(feature["properties"]["desig"])])


def add_messier(package, objects):
    """Magnitudes of Messier objects, what is missing, and the right data for the three (M 87, M 98,
    M 102) that the big list confuses with a faint neighbour."""
    index = index_of(objects)
    for feature in package.json("messier.json")["features"]:
        properties = feature["properties"]
        name = designation(feature["id"])
        ra, dec = feature["geometry"]["coordinates"]
        read = Object([name], ra, dec, TYPE_WORDS.get(properties["type"], "galaxy"),
                      float(properties["mag"]), size(properties["dim"]))
        known = index.get(key(name)) or index.get(key(designation(properties["desig"])))
        if not known:
            objects.append(read)
            known = read
        elif separation_deg(known, read) > 0.1 and known.magnitude > read.magnitude + 2:
            known.ra, known.dec = read.ra, read.dec
            known.major, known.minor = read.major, read.minor
        known.magnitude = read.magnitude
        known.add_names([name])
        known.common += [text.replace("´", "'").replace("’", "'")
                         for text in [properties["alt"]] if text]


def local_group_type(text):
    return "globular cluster" if text.startswith("GC") else "galaxy"


def add_local_group(package, objects):
    """Dwarf galaxies and globular clusters that the big list lacks; names and sizes for the rest.
    Its positions are not used for the rest: several have lost the sign of a declination."""
    index = index_of(objects)
    for feature in package.json("lg.json")["features"]:
        properties = feature["properties"]
        names = [designation(text) for text in [properties["name"], properties["desig"]] if text]
        if names[0] in ("Milky Way", "Canis Major I"):
            continue
        ra, dec = feature["geometry"]["coordinates"]
        read = Object(names[:1], ra, dec, local_group_type(properties["type"]),
                      number(properties["mag"]), size(properties["dim"]))
        known = next((index[key(name)] for name in names if key(name) in index), None)
        known = known or same_place(read, objects, 0.02)
        if not known:
            objects.append(read)
            known = read
        elif read.major and (known.major is None or known.major < read.major / 2):
            known.major, known.minor = read.major, read.minor
        if known.kind == "galaxy":
            known.kind = read.kind
        known.add_names([name.strip("()") for name in names if "part" not in name])


def same_place(read, objects, limit_deg):
    kinds = {"galaxy", "globular cluster", "open cluster"}
    near = [item for item in objects
            if abs(item.dec - read.dec) < limit_deg and item.kind in kinds
            and separation_deg(item, read) < limit_deg]
    return min(near, key=lambda item: separation_deg(item, read), default=None)


def set_field(item, field, value):
    """One line of the supplement."""
    if field in ("alias", "id"):
        item.add_names([value], first=field == "id")
    elif field == "name":
        item.common = [value] + [name for name in item.common if key(name) != key(value)]
    elif field == "unname":
        item.unwanted.add(key(value))
    elif field == "type":
        item.kind = value
    else:
        setattr(item, {"ra_deg": "ra", "dec_deg": "dec", "magnitude": "magnitude",
                       "major_arcmin": "major", "minor_arcmin": "minor",
                       "angle_deg": "angle"}[field],
                float(value) if value else None)


def add_supplement(lines, objects):
    """Lines of (object, field, value, reason). An unknown object is made; 'drop' removes one."""
    index = index_of(objects)
    for name, field, value, _ in lines:
        item = index.get(key(name))
        if field == "drop":
            objects.remove(item)
            index = {word: other for word, other in index.items() if other is not item}
            continue
        if not item:
            item = Object([name], 0, 0, "", None, (None, None))
            objects.append(item)
        if field in ("alias", "id") and index.get(key(value), item) is not item:
            raise ValueError(f"supplement: {value} is already a name of {index[key(value)].names}")
        set_field(item, field, value)
        index.update({key(text): item for text in item.names})


def add_usual_names(lines, objects):
    """The one name that stands behind the number; it is also the first of the English names."""
    index = index_of(objects)
    for name, usual in lines:
        item = index.get(key(name))
        if not item or item.names[0] != name:
            raise ValueError(f"usual-names: {name} is not the designation of an object")
        set_field(item, "name", usual)
        item.usual = usual


def add_caldwell(lines, objects):
    index = index_of(objects)
    for caldwell, name in lines:
        index[key(name)].add_names([caldwell])


# Called after figures and goods of the trade: these names are left to their owners.
OWNED_NAMES = {
    "Casper the Friendly Ghost Nebula", "Charlie Brown's Christmas Tree", "Cheerio Nebula",
    "Darth Vader's Starfighter", "Doublemint Cluster", "Faberge Egg Galaxy",
    "Hagrid's Dragon Cluster", "Mothra Cluster", "Patrick Starfish Cluster", "Superman Galaxy",
    "m & m Double Cluster"}


def add_common_names(package, objects):
    """Names in English. Keys that are bare numbers in the package name no object."""
    index = index_of(objects)
    for name, names in package.json("dsonames.json").items():
        item = index.get(key(designation(name)))
        common = " ".join(names["name"].replace("’", "'").split())
        if item and common not in OWNED_NAMES:
            item.add_common([common])


def tidy_common_names(item):
    """Drops 'Pinwheel' beside 'Pinwheel Galaxy', repeats, and articles but of single words."""
    kept = []
    item.common = [re.sub(r"^The (?=\S+ )", "", name) for name in item.common
                   if key(name) not in item.unwanted]
    for name in item.common:
        longer = any(other != name and other.lower().startswith(name.lower() + " ")
                     for other in item.common)
        known = {key(text) for text in kept + item.names}
        if not longer and key(name) not in known:
            kept.append(name)
    item.common = kept


def bright_or_large(item, magnitude, arcmin):
    return ((item.magnitude is not None and item.magnitude < magnitude)
            or (item.major is not None and item.major >= arcmin))


def wanted(item):
    """All of the photographers' catalogues; from the great surveys only what shows in a picture
    taken with a short lens."""
    catalogue = item.catalogue()
    if item.common or catalogue not in ["PK", "PN", "ACO", *LAST_CATALOGUES]:
        return True
    if catalogue in ("PK", "PN"):
        return item.kind != "galaxy" and bright_or_large(item, 13, 1)
    if catalogue == "ACO":
        return bright_or_large(item, 12.5, 30)
    if item.kind == "galaxy":
        # Magnitudes of galaxies without a size are often infrared ones: too bright.
        return item.major is not None and (bright_or_large(item, 12.5, 3) and item.major >= 1)
    return bright_or_large(item, 12.5, 3)


def kind_class(item):
    if item.kind in NEBULAE:
        return "nebula"
    return "cluster" if item.kind in CLUSTERS else item.kind


def same_object(a, b):
    """Two catalogues that give one position to the same kind of thing mean the same thing."""
    limit = 0.05 / 60 if a.kind == "galaxy" else 0.3 / 60
    if a.kind != "galaxy" and a.catalogue() == b.catalogue():
        return False
    return kind_class(a) == kind_class(b) and separation_deg(a, b) < limit


def merge(objects):
    """Objects in order of rank, the lower-ranking twin folded into the higher."""
    kept, by_cell = [], {}
    for item in sorted(objects, key=lambda item: rank(item.names[0])):
        row = math.floor(item.dec * 10)
        near = [other for cell in (row - 1, row, row + 1) for other in by_cell.get(cell, [])]
        twin = next((other for other in near if same_object(other, item)), None)
        if not twin:
            kept.append(item)
            by_cell.setdefault(row, []).append(item)
            continue
        twin.add_names(item.names)
        twin.add_common(item.common)
        if twin.magnitude is None:
            twin.magnitude = item.magnitude
        if twin.major is None:
            twin.major, twin.minor = item.major, item.minor
    return kept


def check(objects):
    for item in objects:
        if not -90 <= item.dec <= 90 or not item.kind:
            raise ValueError(f"{item.names[0]}: no place or type")


def read_objects(package, supplement, caldwell, usual_names):
    objects = read_main(package)
    add_bright(package, objects)
    add_messier(package, objects)
    add_local_group(package, objects)
    add_supplement(supplement, objects)
    add_common_names(package, objects)
    add_caldwell(caldwell, objects)
    for item in objects:
        tidy_common_names(item)
        if item.kind in CLUSTERS:
            item.minor = item.major
    objects = merge([item for item in objects if wanted(item)])
    add_usual_names(usual_names, objects)
    check(objects)
    return objects
