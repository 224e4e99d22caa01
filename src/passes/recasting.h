/*
 * recasting.h: mode on its way, for the files that do it: what steps cost (mode_prices.c), what
 * becomes of each chord (mode_chords.c), and of each tone (mode.c).
 *
 *     chord      F             G             a chord is decided once, for all voices;
 *     answers    Fm  F         G  Gm         steps between its tones and those of the
 *                 ╲ │        ╱               chord before are priced, in every strand
 *     strand     A4 ── (C5) ── B4            what is between them is then found strand
 *     strand     F4 ────────── D4            by strand
 */
#ifndef PASSES_RECASTING_H
#define PASSES_RECASTING_H

#include "passes/pass.h"
#include "score/sense.h"
#include "theory/recast.h"

/* Its keys. */
struct muta_mode_args {
    const char *to;
    const char *tonic;
};

enum {
    MUTA_MODE_ANSWERS = 12
};

/* What a tone may become. */
struct muta_mode_form {
    muta_pitch pitch;
    const muta_scale_tone *member; /* NULL: outside the scale */
    int64_t price;                 /* of its own, in thousandths */
};

/* The key in which a moment is heard, and what becomes of its tonic. */
struct muta_mode_local {
    muta_key key;
    const muta_scale *to;
    muta_interval moved; /* of the tonic, as the home key has its degree */
    bool stays;          /* but for that: its mode is the one that its degree has in the new key */
};

/* What becomes of one tone of a chord, with what its key's tonic does. */
struct muta_mode_turn {
    int8_t semitones;
    const muta_scale_tone *member;
};

/* A chord, and what may become of it. */
struct muta_mode_chord {
    struct muta_mode_local local;
    struct muta_mode_turn answers[MUTA_MODE_ANSWERS][MUTA_CHORD_MOST]; /* by its tones */
    int64_t prices[MUTA_MODE_ANSWERS];
    uint32_t count;
    uint32_t taken;
    struct muta_mode_local other; /* of a chord at the edge of a key: that of its neighbour, */
    uint32_t others;              /* whose answers these are: the last ones */
    uint32_t moves;               /* the first of those that come to it, from 1; 0: none */
    uint8_t sounds;               /* which of its tones do, a bit each */
    uint8_t rising;   /* strands that go on from its sixth degree by step to the tonic */
    bool is_dominant; /* it has the leading tone */
    bool rests;       /* a phrase ends on it */
};

/* A tone of a strand: the nth tones of a line's events, from the top. */
struct muta_mode_site {
    const muta_tone *tone;
    struct muta_mode_chord *chord; /* under which it begins; NULL: none is known */
    int8_t nth;                    /* of its chord's tones; -1: it is none */
    bool is_first;                 /* of its strand */
    bool is_long;
    int8_t degree;    /* of its key, from 0 */
    bool is_foreign;  /* to its key */
    bool is_dominant; /* its chord has the leading tone, or it is it, in such a chord's company */
    bool is_practice; /* the target is the minor of practice */
};

struct muta_recasting {
    const muta_call *call;
    muta_arena arena;
    muta_scale given;
    bool is_given;
    bool is_other; /* the target is the other of major and minor, and each key has its own */
    muta_scale from_major; /* the defaults */
    muta_scale from_minor;
    muta_scale major;
    muta_scale minor;
    muta_interval moved;            /* to another tonic */
    struct muta_mode_chord *chords; /* as the passage has them */
    bool *decided;                  /* by tone: what it becomes is known */
    MUTA_VEC(struct muta_mode_site) sites;
};

/* The scale that a mode is re-cast into, and the one that a key is in. */
const muta_scale *muta_mode_target(const struct muta_recasting *work, muta_mode mode);
const muta_scale *muta_mode_own_scale(const struct muta_recasting *work, muta_key key);
/* Whether a tone is one of the key's: in minor with the raised sixth and seventh. */
bool muta_mode_is_own(const muta_scale *scale, muta_interval above);
/* Whether music in this key is in the mode already that is asked for. */
bool muta_mode_is_there(const struct muta_recasting *work, muta_key key);

/* What two neighbours of a strand, that are one thing now, cost: what they were to each other and
 * are no more. In thousandths. Source of its rules: common practice. */
int64_t muta_mode_price_step(const struct muta_recasting *work, const struct muta_mode_site *before,
                             const struct muta_mode_form *from, const struct muta_mode_site *here,
                             const struct muta_mode_form *to);
/* What a form of the sixth or the seventh costs in the minor of practice, over a dominant or not.
 */
int64_t muta_mode_price_practice(const muta_scale_tone *member, bool is_dominant);

/* In which keys the passage's chords stand; of none, where no mode is changed. */
muta_status muta_mode_read_chords(struct muta_recasting *work) MUTA_CHECK;
/* Which chord sounds at a moment of the passage; NULL: none that is known. */
struct muta_mode_chord *muta_mode_chord_at(const struct muta_recasting *work, muta_fraction time);
/* The tone of the chord that this is, whatever its octave; -1: none. */
int8_t muta_mode_nth(const struct muta_recasting *work, const struct muta_mode_chord *chord,
                     muta_pitch pitch);
/* What a tone of its chord becomes when this answer is taken. */
struct muta_mode_form muta_mode_form_of(const struct muta_mode_chord *chord, muta_pitch pitch,
                                        int8_t nth, uint32_t answer);
/* Whether it was decided that a chord is its neighbour's key's. */
bool muta_mode_is_pivoted(const struct muta_mode_chord *chord);
/* Decides on the chords together, as the steps between the tones of neighbours ask for; the sites
 * are known. */
muta_status muta_mode_decide(struct muta_recasting *work) MUTA_CHECK;
/* Writes down what the chords have become, so that symbols and later passes know. */
muta_status muta_mode_write_chords(struct muta_recasting *work) MUTA_CHECK;

#endif
