"""Tables of `archive.sqlite` as they are now. How they came to be is told in `migrations/`."""

from __future__ import annotations

import sqlalchemy as sa

metadata = sa.MetaData()

NUL = "\ufdd0"  # a noncharacter, kept by Unicode for such use within a program


class _Text(sa.types.TypeDecorator[str]):
    """Text in PostgreSQL, which has no NUL: another character stands for it (`postgres`), and is turned back here."""

    impl = sa.Text
    cache_ok = True

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> str | None:
        return value if value is None or NUL not in value else value.replace(NUL, "\0")


# In PostgreSQL text is ordered by its bytes, and numbers have 64 bits, as both are in SQLite.
TEXT = sa.Text().with_variant(_Text(collation="C"), "postgresql")
INTEGER = sa.Integer().with_variant(sa.BigInteger(), "postgresql")


def _column(name: str, kind: sa.types.TypeEngine[str] = TEXT) -> sa.Column[str]:
    return sa.Column(name, kind, nullable=False, server_default="")


reference = sa.Table(
    "reference",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),  # the order of gathering
    sa.Column("id", TEXT, nullable=False, unique=True),
    sa.Column(
        "kind",
        TEXT,
        sa.CheckConstraint("kind in ('image', 'text', 'object')", name="reference_kind"),
        nullable=False,
        index=True,
    ),
    *(
        _column(name)
        for name in [
            "title",
            "source_name",
            "creator",
            "place",
            "description",
            "medium",
            "dimensions",
            "collection",
            "accession",
            "credit",
            "source",
            "rights",
            "identifier",
            "witness",
            "suffix",
            "media_type",
            "added_at",
        ]
    ),
    sa.Column("date_edtf", TEXT),
    sa.Column("date_text", TEXT),
    sa.Column("earliest", INTEGER, index=True),  # Julian day numbers; null is open
    sa.Column("latest", INTEGER, index=True),
    sa.Column("subjects", sa.JSON, nullable=False),
    sa.Column("sha256", TEXT, unique=True),  # null where there is no file
    sa.Column("width", INTEGER, nullable=False, server_default="0"),
    sa.Column("height", INTEGER, nullable=False, server_default="0"),
    # Since version 2: the date of what is shown, the day of scanning, why it may be published, where values came from.
    sa.Column("depicts_edtf", TEXT),
    sa.Column("depicts_text", TEXT),
    sa.Column("depicts_earliest", INTEGER),
    sa.Column("depicts_latest", INTEGER),
    _column("digitised"),
    _column("basis"),
    _column("basis_evidence"),
    sa.Column("origins", sa.JSON, nullable=False, server_default="[]"),
)
sa.Index("reference_source_name", reference.c.source_name)

detail = sa.Table(
    "detail",
    metadata,
    sa.Column("id", TEXT, primary_key=True),
    sa.Column("reference", sa.ForeignKey("reference.id"), nullable=False, index=True),
    *(sa.Column(name, sa.Float, nullable=False) for name in ("x", "y", "width", "height")),
    _column("note"),
)

passage = sa.Table(
    "passage",
    metadata,
    sa.Column("id", TEXT, primary_key=True),
    sa.Column("reference", sa.ForeignKey("reference.id"), nullable=False, index=True),
    sa.Column("number", INTEGER, nullable=False),
    _column("text"),
    sa.Column("start", INTEGER, nullable=False),
    sa.Column("end", INTEGER, nullable=False),
)

source_mark = sa.Table(
    "source_mark",
    metadata,
    sa.Column("root", TEXT, primary_key=True),
    sa.Column("path", TEXT, primary_key=True),
    sa.Column("size", INTEGER, nullable=False),
    sa.Column("mtime_ns", INTEGER, nullable=False),
    _column("sha256"),
    sa.Column("reference", sa.ForeignKey("reference.id")),
    _column("problem"),
    _column("next_step"),
    _column("version"),
)

scene = sa.Table(
    "scene",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("slug", TEXT, nullable=False, unique=True),
    *(_column(name) for name in ("title", "event", "story", "place", "series", "currency", "saved_at", "toml")),
    sa.Column("date_edtf", TEXT),
    sa.Column("date_text", TEXT),
    sa.Column("earliest", INTEGER),
    sa.Column("latest", INTEGER),
    sa.Column("latitude", sa.Float),
    sa.Column("longitude", sa.Float),
    sa.Column("key_reference", sa.ForeignKey("reference.id")),
    sa.Column("intent", sa.JSON, nullable=False),
    sa.Column("safety", sa.JSON, nullable=False),
    sa.Column("revision", INTEGER, nullable=False),
    sa.Column("site", sa.JSON(none_as_null=True)),
    sa.Column("rig", sa.JSON(none_as_null=True)),
)

scene_line = sa.Table(
    "scene_line",
    metadata,
    sa.Column("scene", sa.ForeignKey("scene.slug", ondelete="CASCADE"), primary_key=True),
    sa.Column("kind", TEXT, primary_key=True),  # statement, misreading, variation
    sa.Column("position", INTEGER, primary_key=True),
    _column("title"),
    _column("text"),
)

figure = sa.Table(
    "figure",
    metadata,
    sa.Column("scene", sa.ForeignKey("scene.slug", ondelete="CASCADE"), primary_key=True),
    sa.Column("slug", TEXT, primary_key=True),
    sa.Column("position", INTEGER, nullable=False),
    *(_column(name) for name in ("name", "performer", "role", "rank", "action", "wet")),
    sa.Column("sizes", sa.JSON, nullable=False),
)

need = sa.Table(
    "need",
    metadata,
    sa.Column("scene", sa.ForeignKey("scene.slug", ondelete="CASCADE"), primary_key=True),
    sa.Column("slug", TEXT, primary_key=True),
    sa.Column("position", INTEGER, nullable=False),
    *(_column(name) for name in ("name", "department", "figure", "description", "prominence")),
    *(
        sa.Column(name, sa.JSON, nullable=False)
        for name in ("facts", "do", "dont", "substitutes", "breakdown", "quantity", "sourcing")
    ),
    sa.Column("answers", sa.JSON, nullable=False, server_default="[]"),
)

_NEED_KEY = ("scene", "need")

swatch = sa.Table(
    "swatch",
    metadata,
    sa.Column("scene", TEXT, primary_key=True),
    sa.Column("need", TEXT, primary_key=True),
    sa.Column("position", INTEGER, primary_key=True),
    sa.Column("reference", sa.ForeignKey("reference.id"), nullable=False),
    sa.Column("region", sa.JSON(none_as_null=True)),
    _column("name"),
    sa.ForeignKeyConstraint(_NEED_KEY, ("need.scene", "need.slug"), ondelete="CASCADE"),
)

evidence = sa.Table(
    "evidence",
    metadata,
    sa.Column("scene", TEXT, primary_key=True),
    sa.Column("need", TEXT, primary_key=True),
    sa.Column("position", INTEGER, primary_key=True),
    sa.Column("reference", sa.ForeignKey("reference.id"), nullable=False, index=True),
    sa.Column("detail", sa.ForeignKey("detail.id")),
    sa.Column("passage", sa.ForeignKey("passage.id")),
    sa.Column(
        "relation",
        TEXT,
        sa.CheckConstraint("relation in ('shows', 'describes', 'contradicts')", name="evidence_relation"),
        nullable=False,
    ),
    _column("note"),
    sa.Column("fit", sa.JSON, nullable=False, server_default="[]"),
    sa.ForeignKeyConstraint(_NEED_KEY, ("need.scene", "need.slug"), ondelete="CASCADE"),
)

family = sa.Table(
    "family",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("id", TEXT, nullable=False, unique=True),
    _column("note"),
)

family_member = sa.Table(
    "family_member",
    metadata,
    sa.Column("reference", sa.ForeignKey("reference.id"), primary_key=True),  # in one family at most
    sa.Column("family", sa.ForeignKey("family.id", ondelete="CASCADE"), nullable=False, index=True),
    sa.Column("position", INTEGER, nullable=False),
    _column("descent"),
    sa.Column("after", sa.ForeignKey("reference.id")),
    _column("note"),
)

not_family = sa.Table(  # pairs that were proposed and turned down, so that they are not proposed again
    "not_family",
    metadata,
    sa.Column("one", sa.ForeignKey("reference.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("other", sa.ForeignKey("reference.id", ondelete="CASCADE"), primary_key=True),
    _column("note"),
)

frame = sa.Table(
    "frame",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("id", TEXT, nullable=False, unique=True),
    sa.Column("scene", sa.ForeignKey("scene.slug"), nullable=False, index=True),
    *(_column(name) for name in ("source_name", "sha256", "suffix", "added_at")),
    sa.Column("width", INTEGER, nullable=False),
    sa.Column("height", INTEGER, nullable=False),
    _column("taken"),  # since version 6: by the camera's clock
)

frame_note = sa.Table(
    "frame_note",
    metadata,
    sa.Column("frame", sa.ForeignKey("frame.id"), primary_key=True),
    sa.Column("subject", TEXT, primary_key=True),
    _column("says"),
    _column("note"),
)

# Since version 3: what viewers said, and the lines of each check.
viewing = sa.Table(
    "viewing",
    metadata,
    sa.Column("number", INTEGER, primary_key=True),
    sa.Column("frame", sa.ForeignKey("frame.id"), nullable=False, index=True),
    sa.Column("at", TEXT, nullable=False),
    _column("viewer"),
    sa.Column("seconds", sa.Float),
    _column("print_size"),
    _column("words"),
)

frame_check = sa.Table(
    "frame_check",
    metadata,
    sa.Column("number", INTEGER, primary_key=True),
    sa.Column("frame", sa.ForeignKey("frame.id"), nullable=False, index=True),
    sa.Column("at", TEXT, nullable=False),
    sa.Column("lines", sa.JSON, nullable=False),
)

# Since version 6: after the shoot.
frame_look = sa.Table(  # what a frame measured as, with what measured it; made anew when that changes
    "frame_look",
    metadata,
    sa.Column("frame", sa.ForeignKey("frame.id"), primary_key=True),
    _column("version"),
    sa.Column("told", sa.JSON, nullable=False),
)

work_print = sa.Table(
    "work_print",
    metadata,
    sa.Column("id", TEXT, primary_key=True),
    sa.Column("frame", sa.ForeignKey("frame.id"), nullable=False, index=True),
    *(_column(name) for name in ("sheet", "printed", "paper", "note")),
    *(sa.Column(name, sa.Float, nullable=False) for name in ("width_mm", "height_mm", "pixels_per_inch")),
)

sitting = sa.Table(
    "sitting",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("id", TEXT, nullable=False, unique=True),
    sa.Column("scene", sa.ForeignKey("scene.slug"), nullable=False, index=True),
    *(_column(name) for name in ("criterion", "began", "viewer", "light")),
    sa.Column("seed", INTEGER, nullable=False),
    sa.Column("frames", sa.JSON, nullable=False),
)

judgement = sa.Table(
    "judgement",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("sitting", sa.ForeignKey("sitting.id"), nullable=False, index=True),
    sa.Column("left", sa.ForeignKey("frame.id"), nullable=False),
    sa.Column("right", sa.ForeignKey("frame.id"), nullable=False),
    sa.Column(
        "says",
        TEXT,
        sa.CheckConstraint("says in ('left', 'right', 'neither yet')", name="judgement_says"),
        nullable=False,
    ),
    *(_column(name) for name in ("at", "reason")),
    sa.Column("repeats", sa.ForeignKey("judgement.number")),
)

arrangement = sa.Table(
    "arrangement",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("scene", sa.ForeignKey("scene.slug"), nullable=False, index=True),
    *(_column(name) for name in ("wall", "at", "light", "note", "photograph", "suffix")),
    *(sa.Column(name, sa.Float, nullable=False) for name in ("width_mm", "height_mm")),
    sa.Column("hung", sa.JSON, nullable=False),
)

decision = sa.Table(
    "decision",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("scene", sa.ForeignKey("scene.slug"), nullable=False, index=True),
    sa.Column("frame", sa.ForeignKey("frame.id"), nullable=False),
    *(_column(name) for name in ("at", "sentence")),
    sa.Column("turned_down", sa.JSON, nullable=False),
)

series_order = sa.Table(
    "series_order",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    *(_column(name) for name in ("series", "at", "note")),
    sa.Column("frames", sa.JSON, nullable=False),
)

particulars = sa.Table(
    "particulars",
    metadata,
    sa.Column("frame", sa.ForeignKey("frame.id"), primary_key=True),
    sa.Column("told", sa.JSON, nullable=False),
    sa.Column("revision", INTEGER, nullable=False),
)

setting = sa.Table(
    "setting",
    metadata,
    sa.Column("key", TEXT, primary_key=True),
    sa.Column("value", sa.JSON, nullable=False),
)

history = sa.Table(
    "history",
    metadata,
    sa.Column("number", INTEGER, primary_key=True, autoincrement=True),
    sa.Column("at", TEXT, nullable=False),
    sa.Column("who", TEXT, nullable=False),
    sa.Column("action", TEXT, nullable=False),
    sa.Column("record", TEXT, nullable=False, index=True),
    sa.Column("before", sa.JSON(none_as_null=True)),
    sa.Column("after", sa.JSON(none_as_null=True)),
)

# Full-text tables live beside these; SQLAlchemy has no construct for them. The first column is not indexed.
WORD_TABLES = {
    "reference_words": ("id", "title", "description", "creator", "place", "medium", "subjects", "other"),
    "passage_words": ("id", "text"),
}


def word_table_ddl(name: str) -> str:
    """CREATE statement of one full-text table: English stems, accents folded."""
    first, *rest = WORD_TABLES[name]
    columns = ", ".join([f"{first} UNINDEXED", *rest])
    return f"CREATE VIRTUAL TABLE {name} USING fts5({columns}, tokenize = 'porter unicode61 remove_diacritics 2')"
