-- Written by archive_of_version_1.py at version 0001. Never edited.
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" ("version_num") VALUES ('0001');
CREATE TABLE history (
    number INTEGER NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    action TEXT NOT NULL,
    record TEXT NOT NULL,
    "before" JSON,
    "after" JSON,
    PRIMARY KEY (number)
);
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (1, '2026-11-25T10:58:20+00:00', 'tester', 'added', 'reference:ref-aaaaaaaaaaaa', NULL, '{"id": "ref-aaaaaaaaaaaa", "kind": "image", "title": "Gatherers at low water", "source_name": "sands \u201c1\u201d.jpg", "creator": "Invented hand", "when": {"edtf": "1871-02~", "text": "about February 1871", "earliest": 2404460, "latest": 2404487}, "place": "Merrow Sands", "description": "Three women with lanterns; one carries a Kre\u017f\u017fet.", "medium": "wood engraving", "dimensions": "120 \u00d7 180 mm", "collection": "Nowhere Collection", "accession": "N.1", "credit": "Invented for tests", "source": "test", "rights": "http://rightsstatements.org/vocab/NKC/1.0/", "identifier": "urn:x-test:1", "subjects": ["lantern", "cockle rake"], "witness": "second-hand image", "sha256": "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", "suffix": ".jpg", "media_type": "image/jpeg", "width": 1800, "height": 1200, "added_at": "2026-01-02T03:04:05+00:00"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (2, '2026-11-25T10:58:20+00:00', 'tester', 'added', 'reference:ref-bbbbbbbbbbbb', NULL, '{"id": "ref-bbbbbbbbbbbb", "kind": "text", "title": "A letter about the ford", "source_name": "letter.txt", "creator": "", "when": {"edtf": "../1870", "text": "before 1871", "earliest": null, "latest": 2404428}, "place": "", "description": "", "medium": "", "dimensions": "", "collection": "", "accession": "", "credit": "", "source": "", "rights": "", "identifier": "", "subjects": [], "witness": "contemporary text", "sha256": "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb", "suffix": ".txt", "media_type": "text/plain", "width": 0, "height": 0, "added_at": "2026-01-02T03:04:06+00:00"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (3, '2026-11-25T10:58:20+00:00', 'tester', 'added', 'reference:ref-cccccccccccc', NULL, '{"id": "ref-cccccccccccc", "kind": "object", "title": "Horn lantern", "source_name": "", "creator": "", "when": null, "place": "", "description": "", "medium": "", "dimensions": "", "collection": "", "accession": "", "credit": "", "source": "", "rights": "", "identifier": "", "subjects": [], "witness": "not yet judged", "sha256": "", "suffix": "", "media_type": "", "width": 0, "height": 0, "added_at": "2026-01-02T03:04:07+00:00"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (4, '2026-11-25T10:58:20+00:00', 'tester', 'added', 'detail:ref-aaaaaaaaaaaa.d00000001', NULL, '{"id": "ref-aaaaaaaaaaaa.d00000001", "reference": "ref-aaaaaaaaaaaa", "region": [0.1, 0.2, 0.3, 0.4], "note": "the lantern\u2019s ring"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (5, '2026-11-25T10:58:20+00:00', 'tester', 'added', 'scene:first-light', NULL, '{"slug": "first-light", "title": "First light on the sands", "event": "Gatherers set out before dawn", "story": "They leave while it is dark, because the tide does not wait.", "when": {"edtf": "1871-02", "text": "February 1871", "earliest": 2404460, "latest": 2404487}, "place": "Merrow Sands", "latitude": 54.1, "longitude": -2.9, "series": "The crossing", "key_reference": "ref-aaaaaaaaaaaa", "statements": ["It is cold.", "They do this every day."], "misreadings": ["A procession."], "intent": {"words": "before the sun", "palette": [{"hex": "#334455", "share": 0.6, "name": "sea"}, {"hex": "#c8a060", "share": 0.4, "name": ""}], "palette_tolerance": 12.0, "key": 32.5, "key_tolerance": 6.0, "contrast": 40.0, "contrast_tolerance": 10.0, "light_from": "the left", "light_tilt_deg": 35.0, "light_tolerance_deg": 20.0, "like": ["ref-aaaaaaaaaaaa"], "likeness_percentile": 80.0}, "figures": [{"slug": "ann", "name": "Ann", "performer": "A. Performer", "role": "gatherer", "rank": "labourer", "action": "walks", "wet": "to the knee", "sizes": [["height", "168 cm"]]}, {"slug": "boy", "name": "The boy", "performer": "", "role": "", "rank": "", "action": "", "wet": "", "sizes": []}], "variations": [{"title": "Later", "moment": "the lanterns are out"}], "needs": [{"slug": "lantern", "name": "Horn lantern", "department": "props", "figure": "ann", "description": "iron and horn", "prominence": "close-up", "facts": [["hand or dressing", "hand"], ["floats", "no"]], "do": ["soot on the horn"], "dont": ["glass"], "substitutes": ["oiled paper"], "breakdown": ["clean", "worn"], "quantity": {"hero": 1, "wet_doubles": 2, "spare": 1, "why": "two soaked takes"}, "sourcing": {"state": "hire", "supplier": "A lender", "deposit": 10.0, "estimate": 45.5, "actual": null, "due": "2026-02-01", "owner": "props"}, "swatches": [{"reference": "ref-aaaaaaaaaaaa", "region": [0.1, 0.1, 0.05, 0.05], "name": "horn"}, {"reference": "ref-aaaaaaaaaaaa", "region": null, "name": ""}], "evidence": [{"reference": "ref-aaaaaaaaaaaa", "relation": "shows", "detail": "ref-aaaaaaaaaaaa.d00000001", "passage": null, "note": "ring and bail"}, {"reference": "ref-bbbbbbbbbbbb", "relation": "describes", "detail": null, "passage": "ref-bbbbbbbbbbbb.p2", "note": ""}, {"reference": "ref-cccccccccccc", "relation": "contradicts", "detail": null, "passage": null, "note": ""}]}, {"slug": "shawl", "name": "Shawl", "department": "wardrobe", "figure": "", "description": "", "prominence": "", "facts": [], "do": [], "dont": [], "substitutes": [], "breakdown": [], "quantity": {"hero": 1, "wet_doubles": 0, "spare": 0, "why": ""}, "sourcing": {"state": "seek", "supplier": "", "deposit": null, "estimate": null, "actual": null, "due": "", "owner": ""}, "swatches": [], "evidence": []}], "safety": [["water", "attended, with a throw line"]], "currency": "EUR", "revision": 1, "saved_at": "2026-11-25T10:58:20+00:00"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (6, '2026-11-25T10:58:20+00:00', 'tester', 'added', 'frame:frame-000000000001', NULL, '{"id": "frame-000000000001", "scene": "first-light", "source_name": "take 3.tif", "sha256": "dddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddd", "suffix": ".tif", "width": 6000, "height": 4000, "added_at": "2026-01-03T00:00:00+00:00"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (7, '2026-11-25T10:58:21+00:00', 'tester', 'added', 'frame:frame-000000000001', NULL, '{"frame": "frame-000000000001", "subject": "measure:key", "says": "departure intended", "note": "mist"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (8, '2026-11-25T10:58:21+00:00', 'tester', 'added', 'frame:frame-000000000001', NULL, '{"frame": "frame-000000000001", "subject": "need:lantern", "says": "present", "note": ""}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (9, '2026-11-25T10:58:21+00:00', 'tester', 'added', 'setting:encoder', NULL, '{"value": {"name": "built-in", "why": "no weights"}}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (10, '2026-11-25T10:58:21+00:00', 'tester', 'changed', 'reference:ref-cccccccccccc', '{"place": ""}', '{"place": "Merrow Sands"}');
INSERT INTO "history" ("number", "at", "who", "action", "record", "before", "after") VALUES (11, '2026-11-25T10:58:21+00:00', 'tester', 'changed', 'reference:ref-cccccccccccc', '{"place": "Merrow Sands"}', '{"place": ""}');
CREATE TABLE reference (
    number INTEGER NOT NULL,
    id TEXT NOT NULL,
    kind TEXT NOT NULL CONSTRAINT reference_kind CHECK (kind in ('image', 'text', 'object')),
    title TEXT DEFAULT '' NOT NULL,
    source_name TEXT DEFAULT '' NOT NULL,
    creator TEXT DEFAULT '' NOT NULL,
    place TEXT DEFAULT '' NOT NULL,
    description TEXT DEFAULT '' NOT NULL,
    medium TEXT DEFAULT '' NOT NULL,
    dimensions TEXT DEFAULT '' NOT NULL,
    collection TEXT DEFAULT '' NOT NULL,
    accession TEXT DEFAULT '' NOT NULL,
    credit TEXT DEFAULT '' NOT NULL,
    source TEXT DEFAULT '' NOT NULL,
    rights TEXT DEFAULT '' NOT NULL,
    identifier TEXT DEFAULT '' NOT NULL,
    witness TEXT DEFAULT '' NOT NULL,
    suffix TEXT DEFAULT '' NOT NULL,
    media_type TEXT DEFAULT '' NOT NULL,
    added_at TEXT DEFAULT '' NOT NULL,
    date_edtf TEXT,
    date_text TEXT,
    earliest INTEGER,
    latest INTEGER,
    subjects JSON NOT NULL,
    sha256 TEXT,
    width INTEGER DEFAULT '0' NOT NULL,
    height INTEGER DEFAULT '0' NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (id),
    UNIQUE (sha256)
);
INSERT INTO "reference" ("number", "id", "kind", "title", "source_name", "creator", "place", "description", "medium", "dimensions", "collection", "accession", "credit", "source", "rights", "identifier", "witness", "suffix", "media_type", "added_at", "date_edtf", "date_text", "earliest", "latest", "subjects", "sha256", "width", "height") VALUES (1, 'ref-aaaaaaaaaaaa', 'image', 'Gatherers at low water', 'sands “1”.jpg', 'Invented hand', 'Merrow Sands', 'Three women with lanterns; one carries a Kreſſet.', 'wood engraving', '120 × 180 mm', 'Nowhere Collection', 'N.1', 'Invented for tests', 'test', 'http://rightsstatements.org/vocab/NKC/1.0/', 'urn:x-test:1', 'second-hand image', '.jpg', 'image/jpeg', '2026-01-02T03:04:05+00:00', '1871-02~', 'about February 1871', 2404460, 2404487, '["lantern", "cockle rake"]', 'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa', 1800, 1200);
INSERT INTO "reference" ("number", "id", "kind", "title", "source_name", "creator", "place", "description", "medium", "dimensions", "collection", "accession", "credit", "source", "rights", "identifier", "witness", "suffix", "media_type", "added_at", "date_edtf", "date_text", "earliest", "latest", "subjects", "sha256", "width", "height") VALUES (2, 'ref-bbbbbbbbbbbb', 'text', 'A letter about the ford', 'letter.txt', '', '', '', '', '', '', '', '', '', '', '', 'contemporary text', '.txt', 'text/plain', '2026-01-02T03:04:06+00:00', '../1870', 'before 1871', NULL, 2404428, '[]', 'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb', 0, 0);
INSERT INTO "reference" ("number", "id", "kind", "title", "source_name", "creator", "place", "description", "medium", "dimensions", "collection", "accession", "credit", "source", "rights", "identifier", "witness", "suffix", "media_type", "added_at", "date_edtf", "date_text", "earliest", "latest", "subjects", "sha256", "width", "height") VALUES (3, 'ref-cccccccccccc', 'object', 'Horn lantern', '', '', '', '', '', '', '', '', '', '', '', '', 'not yet judged', '', '', '2026-01-02T03:04:07+00:00', NULL, NULL, NULL, NULL, '[]', NULL, 0, 0);
CREATE TABLE setting (
    "key" TEXT NOT NULL,
    value JSON NOT NULL,
    PRIMARY KEY ("key")
);
INSERT INTO "setting" ("key", "value") VALUES ('encoder', '{"name": "built-in", "why": "no weights"}');
CREATE TABLE detail (
    id TEXT NOT NULL,
    reference TEXT NOT NULL,
    x FLOAT NOT NULL,
    y FLOAT NOT NULL,
    width FLOAT NOT NULL,
    height FLOAT NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(reference) REFERENCES reference (id)
);
INSERT INTO "detail" ("id", "reference", "x", "y", "width", "height", "note") VALUES ('ref-aaaaaaaaaaaa.d00000001', 'ref-aaaaaaaaaaaa', 0.1, 0.2, 0.3, 0.4, 'the lantern’s ring');
CREATE TABLE passage (
    id TEXT NOT NULL,
    reference TEXT NOT NULL,
    number INTEGER NOT NULL,
    text TEXT DEFAULT '' NOT NULL,
    start INTEGER NOT NULL,
    "end" INTEGER NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(reference) REFERENCES reference (id)
);
INSERT INTO "passage" ("id", "reference", "number", "text", "start", "end") VALUES ('ref-bbbbbbbbbbbb.p1', 'ref-bbbbbbbbbbbb', 1, 'The cart ſtuck at the ford.', 0, 27);
INSERT INTO "passage" ("id", "reference", "number", "text", "start", "end") VALUES ('ref-bbbbbbbbbbbb.p2', 'ref-bbbbbbbbbbbb', 2, 'We lit the horn lantern and waited.', 29, 64);
CREATE TABLE scene (
    number INTEGER NOT NULL,
    slug TEXT NOT NULL,
    title TEXT DEFAULT '' NOT NULL,
    event TEXT DEFAULT '' NOT NULL,
    story TEXT DEFAULT '' NOT NULL,
    place TEXT DEFAULT '' NOT NULL,
    series TEXT DEFAULT '' NOT NULL,
    currency TEXT DEFAULT '' NOT NULL,
    saved_at TEXT DEFAULT '' NOT NULL,
    toml TEXT DEFAULT '' NOT NULL,
    date_edtf TEXT,
    date_text TEXT,
    earliest INTEGER,
    latest INTEGER,
    latitude FLOAT,
    longitude FLOAT,
    key_reference TEXT,
    intent JSON NOT NULL,
    safety JSON NOT NULL,
    revision INTEGER NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (slug),
    FOREIGN KEY(key_reference) REFERENCES reference (id)
);
INSERT INTO "scene" ("number", "slug", "title", "event", "story", "place", "series", "currency", "saved_at", "toml", "date_edtf", "date_text", "earliest", "latest", "latitude", "longitude", "key_reference", "intent", "safety", "revision") VALUES (1, 'first-light', 'First light on the sands', 'Gatherers set out before dawn', 'They leave while it is dark, because the tide does not wait.', 'Merrow Sands', 'The crossing', 'EUR', '2026-11-25T10:58:20+00:00', 'slug = "first-light"  # as written
', '1871-02', 'February 1871', 2404460, 2404487, 54.1, -2.9, 'ref-aaaaaaaaaaaa', '{"words": "before the sun", "palette": [{"hex": "#334455", "share": 0.6, "name": "sea"}, {"hex": "#c8a060", "share": 0.4, "name": ""}], "palette_tolerance": 12.0, "key": 32.5, "key_tolerance": 6.0, "contrast": 40.0, "contrast_tolerance": 10.0, "light_from": "the left", "light_tilt_deg": 35.0, "light_tolerance_deg": 20.0, "like": ["ref-aaaaaaaaaaaa"], "likeness_percentile": 80.0}', '[["water", "attended, with a throw line"]]', 1);
CREATE TABLE source_mark (
    root TEXT NOT NULL,
    path TEXT NOT NULL,
    size INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    sha256 TEXT DEFAULT '' NOT NULL,
    reference TEXT,
    problem TEXT DEFAULT '' NOT NULL,
    next_step TEXT DEFAULT '' NOT NULL,
    version TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (root, path),
    FOREIGN KEY(reference) REFERENCES reference (id)
);
INSERT INTO "source_mark" ("root", "path", "size", "mtime_ns", "sha256", "reference", "problem", "next_step", "version") VALUES ('r1', 'sands.jpg', 1234, 1700000000123456789, 'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa', 'ref-aaaaaaaaaaaa', '', '', '0.1.0');
INSERT INTO "source_mark" ("root", "path", "size", "mtime_ns", "sha256", "reference", "problem", "next_step", "version") VALUES ('r1', 'broken.jpg', 10, 1, 'cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc', NULL, 'It is cut short.', 'Copy it again.', '0.1.0');
CREATE TABLE figure (
    scene TEXT NOT NULL,
    slug TEXT NOT NULL,
    position INTEGER NOT NULL,
    name TEXT DEFAULT '' NOT NULL,
    performer TEXT DEFAULT '' NOT NULL,
    role TEXT DEFAULT '' NOT NULL,
    rank TEXT DEFAULT '' NOT NULL,
    action TEXT DEFAULT '' NOT NULL,
    wet TEXT DEFAULT '' NOT NULL,
    sizes JSON NOT NULL,
    PRIMARY KEY (scene, slug),
    FOREIGN KEY(scene) REFERENCES scene (slug) ON DELETE CASCADE
);
INSERT INTO "figure" ("scene", "slug", "position", "name", "performer", "role", "rank", "action", "wet", "sizes") VALUES ('first-light', 'ann', 0, 'Ann', 'A. Performer', 'gatherer', 'labourer', 'walks', 'to the knee', '[["height", "168 cm"]]');
INSERT INTO "figure" ("scene", "slug", "position", "name", "performer", "role", "rank", "action", "wet", "sizes") VALUES ('first-light', 'boy', 1, 'The boy', '', '', '', '', '', '[]');
CREATE TABLE frame (
    number INTEGER NOT NULL,
    id TEXT NOT NULL,
    scene TEXT NOT NULL,
    source_name TEXT DEFAULT '' NOT NULL,
    sha256 TEXT DEFAULT '' NOT NULL,
    suffix TEXT DEFAULT '' NOT NULL,
    added_at TEXT DEFAULT '' NOT NULL,
    width INTEGER NOT NULL,
    height INTEGER NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (id),
    FOREIGN KEY(scene) REFERENCES scene (slug)
);
INSERT INTO "frame" ("number", "id", "scene", "source_name", "sha256", "suffix", "added_at", "width", "height") VALUES (1, 'frame-000000000001', 'first-light', 'take 3.tif', 'dddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddd', '.tif', '2026-01-03T00:00:00+00:00', 6000, 4000);
CREATE TABLE need (
    scene TEXT NOT NULL,
    slug TEXT NOT NULL,
    position INTEGER NOT NULL,
    name TEXT DEFAULT '' NOT NULL,
    department TEXT DEFAULT '' NOT NULL,
    figure TEXT DEFAULT '' NOT NULL,
    description TEXT DEFAULT '' NOT NULL,
    prominence TEXT DEFAULT '' NOT NULL,
    facts JSON NOT NULL,
    do JSON NOT NULL,
    dont JSON NOT NULL,
    substitutes JSON NOT NULL,
    breakdown JSON NOT NULL,
    quantity JSON NOT NULL,
    sourcing JSON NOT NULL,
    PRIMARY KEY (scene, slug),
    FOREIGN KEY(scene) REFERENCES scene (slug) ON DELETE CASCADE
);
INSERT INTO "need" ("scene", "slug", "position", "name", "department", "figure", "description", "prominence", "facts", "do", "dont", "substitutes", "breakdown", "quantity", "sourcing") VALUES ('first-light', 'lantern', 0, 'Horn lantern', 'props', 'ann', 'iron and horn', 'close-up', '[["hand or dressing", "hand"], ["floats", "no"]]', '["soot on the horn"]', '["glass"]', '["oiled paper"]', '["clean", "worn"]', '{"hero": 1, "wet_doubles": 2, "spare": 1, "why": "two soaked takes"}', '{"state": "hire", "supplier": "A lender", "deposit": 10.0, "estimate": 45.5, "actual": null, "due": "2026-02-01", "owner": "props"}');
INSERT INTO "need" ("scene", "slug", "position", "name", "department", "figure", "description", "prominence", "facts", "do", "dont", "substitutes", "breakdown", "quantity", "sourcing") VALUES ('first-light', 'shawl', 1, 'Shawl', 'wardrobe', '', '', '', '[]', '[]', '[]', '[]', '[]', '{"hero": 1, "wet_doubles": 0, "spare": 0, "why": ""}', '{"state": "seek", "supplier": "", "deposit": null, "estimate": null, "actual": null, "due": "", "owner": ""}');
CREATE TABLE scene_line (
    scene TEXT NOT NULL,
    kind TEXT NOT NULL,
    position INTEGER NOT NULL,
    title TEXT DEFAULT '' NOT NULL,
    text TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (scene, kind, position),
    FOREIGN KEY(scene) REFERENCES scene (slug) ON DELETE CASCADE
);
INSERT INTO "scene_line" ("scene", "kind", "position", "title", "text") VALUES ('first-light', 'statement', 0, '', 'It is cold.');
INSERT INTO "scene_line" ("scene", "kind", "position", "title", "text") VALUES ('first-light', 'statement', 1, '', 'They do this every day.');
INSERT INTO "scene_line" ("scene", "kind", "position", "title", "text") VALUES ('first-light', 'misreading', 0, '', 'A procession.');
INSERT INTO "scene_line" ("scene", "kind", "position", "title", "text") VALUES ('first-light', 'variation', 0, 'Later', 'the lanterns are out');
CREATE TABLE evidence (
    scene TEXT NOT NULL,
    need TEXT NOT NULL,
    position INTEGER NOT NULL,
    reference TEXT NOT NULL,
    detail TEXT,
    passage TEXT,
    relation TEXT NOT NULL CONSTRAINT evidence_relation CHECK (relation in ('shows', 'describes', 'contradicts')),
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (scene, need, position),
    FOREIGN KEY(scene, need) REFERENCES need (scene, slug) ON DELETE CASCADE,
    FOREIGN KEY(reference) REFERENCES reference (id),
    FOREIGN KEY(detail) REFERENCES detail (id),
    FOREIGN KEY(passage) REFERENCES passage (id)
);
INSERT INTO "evidence" ("scene", "need", "position", "reference", "detail", "passage", "relation", "note") VALUES ('first-light', 'lantern', 0, 'ref-aaaaaaaaaaaa', 'ref-aaaaaaaaaaaa.d00000001', NULL, 'shows', 'ring and bail');
INSERT INTO "evidence" ("scene", "need", "position", "reference", "detail", "passage", "relation", "note") VALUES ('first-light', 'lantern', 1, 'ref-bbbbbbbbbbbb', NULL, 'ref-bbbbbbbbbbbb.p2', 'describes', '');
INSERT INTO "evidence" ("scene", "need", "position", "reference", "detail", "passage", "relation", "note") VALUES ('first-light', 'lantern', 2, 'ref-cccccccccccc', NULL, NULL, 'contradicts', '');
CREATE TABLE frame_note (
    frame TEXT NOT NULL,
    subject TEXT NOT NULL,
    says TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (frame, subject),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
INSERT INTO "frame_note" ("frame", "subject", "says", "note") VALUES ('frame-000000000001', 'measure:key', 'departure intended', 'mist');
INSERT INTO "frame_note" ("frame", "subject", "says", "note") VALUES ('frame-000000000001', 'need:lantern', 'present', '');
CREATE TABLE swatch (
    scene TEXT NOT NULL,
    need TEXT NOT NULL,
    position INTEGER NOT NULL,
    reference TEXT NOT NULL,
    region JSON,
    name TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (scene, need, position),
    FOREIGN KEY(scene, need) REFERENCES need (scene, slug) ON DELETE CASCADE,
    FOREIGN KEY(reference) REFERENCES reference (id)
);
INSERT INTO "swatch" ("scene", "need", "position", "reference", "region", "name") VALUES ('first-light', 'lantern', 0, 'ref-aaaaaaaaaaaa', '[0.1, 0.1, 0.05, 0.05]', 'horn');
INSERT INTO "swatch" ("scene", "need", "position", "reference", "region", "name") VALUES ('first-light', 'lantern', 1, 'ref-aaaaaaaaaaaa', NULL, '');
CREATE VIRTUAL TABLE reference_words USING fts5(
    id UNINDEXED, title, description, creator, place, medium, subjects, other,
    tokenize = 'porter unicode61 remove_diacritics 2');
INSERT INTO "reference_words" ("rowid", "id", "title", "description", "creator", "place", "medium", "subjects", "other") VALUES (1, 'ref-aaaaaaaaaaaa', 'Gatherers at low water', 'Three women with lanterns; one carries a Kresset.', 'Invented hand', 'Merrow Sands', 'wood engraving', 'lantern; cockle rake', 'Nowhere Collection; N.1; urn:x-test:1; test; sands “1”.jpg');
INSERT INTO "reference_words" ("rowid", "id", "title", "description", "creator", "place", "medium", "subjects", "other") VALUES (2, 'ref-bbbbbbbbbbbb', 'A letter about the ford', '', '', '', '', '', '; ; ; ; letter.txt');
INSERT INTO "reference_words" ("rowid", "id", "title", "description", "creator", "place", "medium", "subjects", "other") VALUES (3, 'ref-cccccccccccc', 'Horn lantern', '', '', '', '', '', '; ; ; ; ');
CREATE VIRTUAL TABLE passage_words USING fts5(id UNINDEXED, text, tokenize = 'porter unicode61 remove_diacritics 2');
INSERT INTO "passage_words" ("rowid", "id", "text") VALUES (1, 'ref-bbbbbbbbbbbb.p1', 'The cart stuck at the ford.');
INSERT INTO "passage_words" ("rowid", "id", "text") VALUES (2, 'ref-bbbbbbbbbbbb.p2', 'We lit the horn lantern and waited.');
CREATE INDEX ix_history_record ON history (record);
CREATE INDEX ix_reference_earliest ON reference (earliest);
CREATE INDEX ix_reference_kind ON reference (kind);
CREATE INDEX ix_reference_latest ON reference (latest);
CREATE INDEX reference_source_name ON reference (source_name);
CREATE INDEX ix_detail_reference ON detail (reference);
CREATE INDEX ix_passage_reference ON passage (reference);
CREATE INDEX ix_frame_scene ON frame (scene);
CREATE INDEX ix_evidence_reference ON evidence (reference);
