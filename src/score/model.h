/*
 * model.h: the score as written, shared by the rooms that read, lift, notate and write it.
 *
 *     score ── part ── bar ── notes in file order
 *       │        └── changes of key, clef, transposition; chord symbols: by bar and moment
 *       ├── bars: number, start, length, metre
 *       └── tree: what goes out; a note leads to its node
 *
 * Times within a bar are quarters from its start. A note's `changed` says which facets of its node
 * are to be written anew.
 */
#ifndef SCORE_MODEL_H
#define SCORE_MODEL_H

#include "base/tree.h"
#include "mutanza/score.h"
#include "theory/chord.h"
#include "theory/clef.h"
#include "theory/instrument.h"

enum {
    MUTA_NO_NOTE = 0xffffffff,
    MUTA_ALL_STAVES = 0
};

typedef enum {
    MUTA_CHANGED_PITCH = 1,
    MUTA_CHANGED_ACCIDENTAL = 2,
    MUTA_CHANGED_STEM = 4,
    MUTA_CHANGED_TIE = 8,
    MUTA_CHANGED_TIME = 16, /* it was written anew, at another place or of another length */
} muta_changed;

typedef enum {
    MUTA_NOTE_REST = 1,
    MUTA_NOTE_CHORD = 2,   /* sounds with the note before it */
    MUTA_NOTE_GRACE = 4,   /* its duration is 0 */
    MUTA_NOTE_CUE = 8,     /* is seen, does not sound */
    MUTA_NOTE_FIXED = 16,  /* percussion: has a place on the staff, no pitch that moves */
    MUTA_NOTE_HIDDEN = 32, /* print-object="no" */
    MUTA_NOTE_TIE_START = 64,
    MUTA_NOTE_TIE_STOP = 128,
    MUTA_NOTE_COURTESY = 256, /* its accidental is marked as a courtesy or editorial */
    MUTA_NOTE_BEAMED = 512,   /* inside a beam, or at one of its ends */
    MUTA_NOTE_BEAM_BEGIN = 1024,
    MUTA_NOTE_TAB = 2048,       /* stands on a tablature staff */
    MUTA_NOTE_CUT_START = 4096, /* a tie began here until a pass parted it */
    MUTA_NOTE_CUT_STOP = 8192,
    MUTA_NOTE_LYRIC = 16384,        /* a syllable stands under it */
    MUTA_NOTE_TUPLET = 32768,       /* its type is modified by a tuplet */
    MUTA_NOTE_NEEDED = 65536,       /* before any pass a reader needed a sign before it */
    MUTA_NOTE_GROUP_BEGIN = 131072, /* a tuplet's bracket or a tremolo of two begins here */
    MUTA_NOTE_GROUP_END = 262144,
    MUTA_NOTE_STACCATO = 524288,
    MUTA_NOTE_ACCENTED = 1048576,
    MUTA_NOTE_FERMATA = 2097152,
    MUTA_NOTE_BREATH = 4194304, /* a breath mark or a caesura stands behind it */
    MUTA_NOTE_CLAUSE = 8388608, /* its words end with a mark of punctuation */
} muta_note_flag;

typedef enum {
    MUTA_STEM_OTHER,
    MUTA_STEM_UP,
    MUTA_STEM_DOWN
} muta_stem;

/* The signs by the millicents that they stand for; OTHER is one that this program leaves alone. */
typedef enum {
    MUTA_SIGN_NONE,
    MUTA_SIGN_NATURAL,
    MUTA_SIGN_SHARP,
    MUTA_SIGN_FLAT,
    MUTA_SIGN_DOUBLE_SHARP,
    MUTA_SIGN_FLAT_FLAT,
    MUTA_SIGN_TRIPLE_SHARP,
    MUTA_SIGN_TRIPLE_FLAT,
    MUTA_SIGN_QUARTER_SHARP,
    MUTA_SIGN_QUARTER_FLAT,
    MUTA_SIGN_THREE_QUARTERS_SHARP,
    MUTA_SIGN_THREE_QUARTERS_FLAT,
    MUTA_SIGN_OTHER,
} muta_sign;

typedef struct muta_note {
    muta_node node;
    uint32_t bar;
    uint32_t tied_from; /* the note that this one continues, by index in its part */
    uint32_t tied_to;   /* the note that continues this one */
    muta_fraction onset;
    muta_fraction duration;
    muta_pitch pitch; /* as written; of a fixed note its place on the staff */
    muta_pitch old;   /* before any pass */
    uint32_t flags;   /* of muta_note_flag */
    uint16_t voice;   /* index into the part's voices */
    uint8_t staff;    /* from 1 */
    uint8_t stem;     /* a muta_stem */
    uint8_t sign;     /* a muta_sign: the accidental that is shown */
    uint8_t changed;  /* of muta_changed */
    uint8_t ornament; /* the first sign that stands over it: a muta_ornament */
    uint8_t above;    /* the muta_sign that stands over that, for its upper neighbour */
    uint8_t below;
} muta_note;

typedef struct muta_voice {
    muta_string label; /* as read, white space and all; 0 when absent */
    uint8_t home;      /* the staff on which most of its notes stand */
} muta_voice;

/* Where something changes, or stands. */
typedef struct muta_moment {
    uint32_t bar;
    uint8_t staff; /* MUTA_ALL_STAVES, or one, from 1 */
    muta_fraction onset;
} muta_moment;

typedef struct muta_key_change {
    muta_moment at;
    muta_node node;      /* 0: it is to be put in */
    muta_key key;        /* as written; of a signature that is no row of fifths, 0 fifths */
    muta_key old;        /* before any pass */
    muta_interval moved; /* what passes added, as written */
    bool is_traditional; /* fifths, not single steps */
    bool has_mode;
    bool is_changed;
    bool is_recast; /* it has another mode on its tonic */
} muta_key_change;

typedef struct muta_clef_change {
    muta_moment at;
    muta_node node;
    muta_clef_sign sign;
    int32_t middle; /* the place on the diatonic line that the middle line shows */
} muta_clef_change;

typedef struct muta_transposition {
    muta_moment at;
    muta_interval by; /* what is added to the written pitch to get the sound */
} muta_transposition;

typedef struct muta_harmony {
    muta_moment at;
    muta_node node;
    muta_interval moved; /* what passes added to its root and bass */
    bool is_changed;
} muta_harmony;

/* Figures below a bass, which say what sounds above it. */
typedef struct muta_figures {
    muta_node node;
    uint32_t bass; /* the note they belong to, by index in its part */
} muta_figures;

/* What stands in a bar besides its notes, by how it travels when time changes. */
typedef enum {
    MUTA_THING_GRID,    /* clef, key, metre, bar line, break: belongs to the bar */
    MUTA_THING_SCORE,   /* tempo, rehearsal letter, jump: speaks for every part */
    MUTA_THING_LEVEL,   /* a level, words: goes with time, and keeps its place when time turns */
    MUTA_THING_HARMONY, /* lasts until the next of its kind */
    MUTA_THING_FIGURES,
    MUTA_THING_SPAN_START, /* of a wedge, a pedal, an octave line, dashes, a bracket */
    MUTA_THING_SPAN_STOP,
    MUTA_THING_SPAN_CHANGE, /* inside a span: a pedal changed, a line that goes on */
} muta_thing_kind;

typedef struct muta_thing {
    muta_moment at; /* where it counts, its offset included */
    muta_node node;
    muta_fraction offset; /* of that, what the file says as an offset */
    uint8_t kind;         /* a muta_thing_kind */
    uint8_t span;         /* which kind of span, with its number */
} muta_thing;

typedef struct muta_divisions {
    muta_moment at;
    muta_fraction to_quarter;
} muta_divisions;

/* Why a bar cannot be varied without guessing. */
typedef enum {
    MUTA_BAR_SURE,
    MUTA_BAR_DIVISIONS,
    MUTA_BAR_DURATION,
    MUTA_BAR_LENGTH,
} muta_bar_doubt;

typedef struct muta_part_bar {
    muta_node cell; /* the element that holds it; 0 when it is missing */
    uint32_t first; /* its first note */
    uint32_t count;
    muta_fraction start; /* in quarters from the start of the score */
    muta_fraction length;
    muta_bar_doubt doubt;
    uint32_t first_thing; /* what else stands in it */
    uint32_t thing_count;
    const struct muta_metre *metre; /* in force at its end */
    bool opens;                     /* a repeat, an ending or a jump has an edge at its start */
    bool closes;                    /* the same at its end */
    bool is_touched;                /* it was written anew, in one voice at least */
} muta_part_bar;

typedef struct muta_part {
    muta_arena arena; /* of all that is below */
    const char *id;
    const char *name; /* one line, white space folded */
    muta_instrument instrument;
    bool has_instrument; /* that is known */
    size_t staves;
    bool has_key;
    bool is_fixed; /* every instrument of it is percussion without pitch */
    size_t bar_count;
    muta_part_bar *bars;
    MUTA_VEC(muta_note) notes;
    MUTA_VEC(muta_voice) voices;
    MUTA_VEC(muta_key_change) keys;
    MUTA_VEC(muta_clef_change) clefs;
    MUTA_VEC(muta_transposition) transpositions;
    MUTA_VEC(muta_harmony) harmonies;
    MUTA_VEC(muta_figures) figures;
    MUTA_VEC(muta_thing) things; /* bar by bar, in the order of the file */
    MUTA_VEC(muta_divisions) divisions;
} muta_part;

enum {
    MUTA_GROUPS = 12
};

/* A metre: groups of beats, as 3+2 eighths. */
typedef struct muta_metre {
    muta_fraction length; /* of a bar, in quarters; invalid when it is free */
    int64_t beat_type;    /* the denominator in which beats are counted */
    uint8_t group_count;  /* 0: none are told */
    uint8_t groups[MUTA_GROUPS];
} muta_metre;

typedef struct muta_bar {
    const char *number; /* as printed */
    bool implicit;
    bool free; /* senza misura, or a metre that is no number */
    muta_fraction start;
    muta_fraction length;
    bool opens; /* in one of the parts */
    bool closes;
    muta_metre metre; /* that of the first part that has the bar */
} muta_bar;

/* What an .mxl held, to be carried into the next one. */
typedef struct muta_archive muta_archive;

/* A chord as a person reads it, from a moment until the next. */
typedef struct muta_own_chord {
    muta_moment at;
    muta_chord value;
    bool is_none;
} muta_own_chord;

struct muta_score {
    muta_arena arena; /* of what is no part's own */
    struct {
        muta_arena arena;
        MUTA_VEC(muta_own_chord) rows; /* in order of time */
    } own_chords;                      /* they outlast the parts, which are built again */
    muta_tree tree;
    muta_archive *archive;  /* NULL for plain XML */
    uint64_t source_device; /* which file it was read from: that one is never written over */
    uint64_t source_file;
    bool has_source;
    bool is_timewise;
    bool own_grids; /* bar lines of the parts do not coincide */
    size_t bar_count;
    muta_bar *bars;
    size_t part_count;
    muta_part *parts;
};

/* What a part is played on; false when that is not known. */
bool muta_part_instrument(const muta_part *part, muta_instrument *instrument);
/* The readings of the bars [from, to) again behind the last bar, `count` times. */
muta_status muta_own_chords_repeat(muta_score *score, size_t from, size_t to,
                                   size_t count) MUTA_CHECK;
/* The bars before `first` go, and their readings with them. */
void muta_own_chords_drop(muta_score *score, size_t first);
/* Ends the parts and bars of a score; its tree stays. */
void muta_model_clear(muta_score *score);
/* Puts the tracks of a part in order of time. */
void muta_part_sort_tracks(muta_part *part);
/* Finds for each tied note the one that it continues. */
muta_status muta_part_link_ties(muta_score *score, muta_part *part) MUTA_CHECK;
/* Orders two moments, their staves aside. */
int muta_moment_compare(muta_moment a, muta_moment b);
/* What is in force for a staff at a moment; NULL when nothing was said before. Borrows: part. */
muta_key_change *muta_part_key_at(const muta_part *part, muta_moment at);
const muta_clef_change *muta_part_clef_at(const muta_part *part, muta_moment at);
/* The transposition in force; the unison when nothing was said. */
muta_interval muta_part_transposition_at(const muta_part *part, muta_moment at);
/* How many divisions a quarter has. */
muta_fraction muta_part_divisions_at(const muta_part *part, muta_moment at);
/* Where a bar begins, on the grid that its part has. */
muta_fraction muta_part_bar_start(const muta_score *score, const muta_part *part, size_t bar);
/* The place of a moment in the score, for messages. */
muta_place muta_score_place(const muta_score *score, const muta_part *part, muta_moment at);
/*
 * A metre of one number is grouped as it is beaten: compound ones in threes, 5 as 3+2, 7 as 2+2+3,
 * others beat by beat. Source: common practice.
 */
void muta_metre_group(muta_metre *metre, int64_t beats);
/* Whether the first bar is a pick-up, which is called 0. */
bool muta_score_has_pickup(const muta_score *score);
/* Which voice of its home staff a voice is, from 1, in the order of their first notes. */
size_t muta_part_voice_number(const muta_part *part, uint32_t voice);
/* The voice of this number on a staff; MUTA_NO_NOTE when there is none. */
uint32_t muta_part_voice_at(const muta_part *part, uint8_t staff, size_t number);
/* A number for label that no voice of the part has: the nth above them all, from 1. */
muta_status muta_part_free_label(muta_score *score, const muta_part *part, int64_t nth,
                                 muta_string *label) MUTA_CHECK;
/* A moment of a bar in beats, from 1. */
muta_fraction muta_metre_beat(const muta_metre *metre, muta_fraction onset);
/* The sign that shows an alteration. */
muta_sign muta_sign_of(int32_t alter);

#endif
